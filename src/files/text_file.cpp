#include "files/text_file.hpp"

#include <fmt/format.h>

#include <fstream>
#include <sstream>

#include "counterspot/units/error.hpp"

namespace counterspot {

std::string text_of_file(const std::filesystem::path& file, std::size_t most_bytes) {
  std::error_code none;
  const auto kind = std::filesystem::status(file, none).type();
  if (kind == std::filesystem::file_type::directory) {
    throw Error(Trouble::request, "not_found", fmt::format("{}: is a folder, not a file", file.string()),
                "name the file in it");
  }
  if (kind == std::filesystem::file_type::character || kind == std::filesystem::file_type::block) {
    throw Error(Trouble::request, "not_found", fmt::format("{}: is a device, not a file", file.string()),
                "name a file; what comes from a program is read from a pipe");
  }
  std::ifstream stream(file, std::ios::binary);
  if (!stream) {
    throw Error(Trouble::request, "not_found",
                fmt::format("{}: there is no such file, or it cannot be read", file.string()),
                "check the name; paths in a file are relative to that file");
  }
  const auto size = std::filesystem::file_size(file, none);
  if (!none && size > most_bytes) {
    throw Error(Trouble::request, "too_long",
                fmt::format("{}: has {} MB, more than such a file ever has", file.string(), size / 1'000'000),
                "name the file that was meant; a recording is named where one is asked for");
  }
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

}  // namespace counterspot
