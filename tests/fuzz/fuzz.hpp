#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string_view>

#include "counterspot/units/error.hpp"

/// A fuzz target is given any bytes and does with them what the program would. It may refuse them with an Error, which
/// is let pass; whatever else is thrown, and whatever the sanitizers find, is a finding.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count);

namespace counterspot::fuzz {

inline std::string_view text_of(const std::uint8_t* bytes, std::size_t count) {
  return {reinterpret_cast<const char*>(bytes), count};
}

/// A file in memory, for readers that take a path.
class MemoryFile {
 public:
  explicit MemoryFile(std::string_view content);
  MemoryFile(const MemoryFile&) = delete;
  MemoryFile& operator=(const MemoryFile&) = delete;
  ~MemoryFile();
  const std::filesystem::path& path() const { return path_; }

 private:
  int number_;
  std::filesystem::path path_;
};

/// A folder with the demo's rig, shaft and stock, which the files under test refer to. Goes with the program.
const std::filesystem::path& demo_folder();

/// Refusing is what the program should do with most of it.
template <typename Work>
void let_refuse(const Work& work) {
  try {
    work();
  } catch (const Error&) {
  }
}

}  // namespace counterspot::fuzz
