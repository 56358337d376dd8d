#pragma once

#include <string>
#include <vector>

#include "recording/arrays/array_formats.hpp"

namespace counterspot {

/// A column of a table: numbers, or texts.
struct NamedColumn {
  std::string name;
  std::vector<double> numbers;
  std::vector<std::string> texts;  ///< if there are any, there are no numbers
};

/// The bytes of a file that holds each column as an array: an archive as `numpy.savez` writes it (texts as Unicode), or
/// a MATLAB file of level 5 (texts as a cell array; what a variable's name cannot hold becomes an underline).
/// @param format npz or matlab. @throws Error(machine, "no_writer") with the package that has it.
std::string bytes_of_arrays(ArrayFormat format, const std::vector<NamedColumn>& columns);

/// What the parts that are loaded by themselves have.
using WriteArrays = void (*)(const std::vector<NamedColumn>& columns, std::string& bytes);

}  // namespace counterspot
