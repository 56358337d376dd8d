#include "recording/arrays/array_writer.hpp"

#include "counterspot/units/error.hpp"
#include "units/part.hpp"

namespace counterspot {

std::string bytes_of_arrays(ArrayFormat format, const std::vector<NamedColumn>& columns) {
  const bool npz = format == ArrayFormat::npz;
  std::string bytes;
  void* write = nullptr;
  try {
    write =
        function_of_part(npz ? "libcounterspot_npz.so" : "libcounterspot_mat.so",
                         npz ? "counterspot_write_npz" : "counterspot_write_mat", "no_writer", "that writes arrays");
  } catch (const Error&) {
    throw Error(Trouble::machine, "no_writer",
                std::string("this build does not write ") + (npz ? "archives of NumPy arrays" : "MATLAB files"),
                std::string("install the package ") + (npz ? "libzip-dev" : "libmatio-dev") +
                    " and build again, or end the name with .csv");
  }
  reinterpret_cast<WriteArrays>(write)(columns, bytes);
  return bytes;
}

}  // namespace counterspot
