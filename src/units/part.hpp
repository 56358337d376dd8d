#pragma once

#include <string>

namespace counterspot {

/// A function of a part of the program that is loaded when it is first wanted, with all the libraries it needs, so that
/// a program that does not want it does not wait for them. Once loaded it stays.
/// @param file as in "libcounterspot_ink.so". @param code of the Error, @param purpose as in "that draws".
/// @throws Error(machine, code).
void* function_of_part(const char* file, const char* function, const char* code, const std::string& purpose);

}  // namespace counterspot
