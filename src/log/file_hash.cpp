#include <fmt/format.h>

#include <array>
#include <cstdint>
#include <fstream>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "log/sha256.hpp"

namespace counterspot {

Sha256::Sha256() {
  sha256_init(&context_);
}

void Sha256::add(std::span<const char> bytes) {
  sha256_update(&context_, bytes.size(), reinterpret_cast<const std::uint8_t*>(bytes.data()));
}

std::string Sha256::text() {
  std::array<std::uint8_t, SHA256_DIGEST_SIZE> digest{};
  sha256_digest(&context_, digest.size(), digest.data());
  std::string text;
  for (const std::uint8_t byte : digest) text += fmt::format("{:02x}", byte);
  return text;
}

std::string sha256_of_file(const std::filesystem::path& file) {
  if (std::error_code unknown; std::filesystem::is_directory(file, unknown)) {
    throw Error(Trouble::recording, "folder_not_kept",
                fmt::format("{}: a folder cannot be held to its bytes in a job's record", file.string()),
                "record all channels into one file for a job; 'track' and 'solve' take the folder");
  }
  std::ifstream stream(file, std::ios::binary);
  if (!stream) {
    throw Error(Trouble::recording, "not_found",
                fmt::format("{}: there is no such file, or it cannot be read", file.string()), "check the name");
  }
  Sha256 hash;
  std::array<char, 65536> block{};
  while (stream.read(block.data(), block.size()) || stream.gcount() > 0)
    hash.add({block.data(), static_cast<std::size_t>(stream.gcount())});
  return hash.text();
}

}  // namespace counterspot
