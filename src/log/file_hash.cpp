#include <fmt/format.h>
#include <nettle/sha2.h>

#include <array>
#include <cstdint>
#include <fstream>

#include "counterspot/error.hpp"
#include "counterspot/log.hpp"

namespace counterspot {

std::string sha256_of_file(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  if (!stream || std::filesystem::is_directory(file)) {
    throw Error(Trouble::recording, "not_found",
                fmt::format("{}: there is no such file, or it cannot be read", file.string()), "check the name");
  }
  sha256_ctx context{};
  sha256_init(&context);
  std::array<char, 65536> block{};
  while (stream.read(block.data(), block.size()) || stream.gcount() > 0)
    sha256_update(&context, static_cast<std::size_t>(stream.gcount()),
                  reinterpret_cast<const std::uint8_t*>(block.data()));
  std::array<std::uint8_t, SHA256_DIGEST_SIZE> digest{};
  sha256_digest(&context, digest.size(), digest.data());
  std::string text;
  for (const std::uint8_t byte : digest) text += fmt::format("{:02x}", byte);
  return text;
}

}  // namespace counterspot
