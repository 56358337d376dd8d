#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>
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
  using Context = std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)>;
  const Context context(EVP_MD_CTX_new(), &EVP_MD_CTX_free);
  EVP_DigestInit_ex(context.get(), EVP_sha256(), nullptr);
  std::array<char, 65536> block{};
  while (stream.read(block.data(), block.size()) || stream.gcount() > 0)
    EVP_DigestUpdate(context.get(), block.data(), static_cast<std::size_t>(stream.gcount()));
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  EVP_DigestFinal_ex(context.get(), digest.data(), &size);
  std::string text;
  for (unsigned int i = 0; i < size; ++i) text += fmt::format("{:02x}", digest[i]);
  return text;
}

}  // namespace counterspot
