#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "recording/arrays/stored_numbers.hpp"

namespace counterspot {

/// Numbers of a variable that is not compressed: they stand in the file as they are.
struct PlainVariable {
  std::string name;
  StoredNumbers numbers;
  std::size_t count = 0;
};

/// The variables of a MATLAB file of level 5 that are not compressed, and the fields "a.b" of structures ("MAT-File
/// Format", The MathWorks, chapter 1, from memory: a head of 128 bytes that ends with the order of bytes, then
/// elements, each with its type and length before it). What is written otherwise than usual is left out.
/// @throws Error(recording, …) "bad_header", "short_data" for a file that is cut off, "unreadable" for one whose
/// compressed parts are damaged: the library that reads them does not tell.
std::vector<PlainVariable> plain_variables(StoredBytes& bytes, const std::string& file);

}  // namespace counterspot
