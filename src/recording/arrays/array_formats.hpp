#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "recording/arrays/array_file.hpp"
#include "recording/arrays/npy.hpp"
#include "recording/byte_source.hpp"

namespace counterspot {

enum class ArrayFormat { none, npy, npz, matlab, hdf5, universal };

/// By the first bytes.
ArrayFormat array_format(std::string_view head);

/// @throws Error(recording, …) "bad_header", "short_data", "unreadable"; Error(machine, "no_reader") that says what to
/// install.
std::unique_ptr<ArrayFile> open_array_file(ByteSource& source, ArrayFormat format);

// What the parts that are loaded by themselves have: each reads from a descriptor that stays open as long as it lives.

struct NamedBytes {
  std::string name;  ///< of the array
  std::unique_ptr<StoredBytes> bytes;
};
/// The arrays of an archive as `numpy.savez` writes it.
using OpenArchive = void (*)(int descriptor, const std::string& file, std::vector<NamedBytes>& arrays);
using OpenArrays = void (*)(int descriptor, const std::string& file, std::unique_ptr<ArrayFile>& arrays);

}  // namespace counterspot
