#include <fmt/format.h>

#include <array>
#include <cstdint>
#include <fstream>

#include "counterspot/log/log.hpp"
#include "counterspot/recording/recording_names.hpp"
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

std::string sha256_of(std::string_view text) {
  Sha256 hash;
  hash.add(text);
  return hash.text();
}

std::string sha256_of_file(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream || std::filesystem::is_directory(file)) {
    throw Error(Trouble::recording, "not_found",
                fmt::format("{}: there is no such file, or it cannot be read", file.string()), "check the name");
  }
  Sha256 hash;
  std::array<char, 65536> block{};
  while (stream.read(block.data(), block.size()) || stream.gcount() > 0)
    hash.add({block.data(), static_cast<std::size_t>(stream.gcount())});
  return hash.text();
}

std::string sha256_of_recording(const std::filesystem::path& recording) {
  if (std::error_code unknown; !std::filesystem::is_directory(recording, unknown)) return sha256_of_file(recording);
  Sha256 hash;
  for (const auto& file : recordings_in(recording))
    hash.add(fmt::format("{}  {}\n", sha256_of_file(file), file.filename().string()));
  return hash.text();
}

}  // namespace counterspot
