#include "recording/same_bytes.hpp"

#include <algorithm>
#include <fstream>
#include <system_error>
#include <vector>

namespace counterspot {

bool same_bytes(const std::filesystem::path& one, const std::filesystem::path& other) {
  namespace fs = std::filesystem;
  std::error_code trouble;
  if (!fs::is_regular_file(one, trouble) || !fs::is_regular_file(other, trouble)) return false;
  if (fs::equivalent(one, other, trouble)) return true;
  if (fs::file_size(one, trouble) != fs::file_size(other, trouble)) return false;
  std::ifstream first(one, std::ios::binary);
  std::ifstream second(other, std::ios::binary);
  std::vector<char> a(65536);
  std::vector<char> b(a.size());
  while (first && second) {
    first.read(a.data(), static_cast<std::streamsize>(a.size()));
    second.read(b.data(), static_cast<std::streamsize>(b.size()));
    const auto count = first.gcount();
    if (count != second.gcount() || !std::equal(a.begin(), a.begin() + count, b.begin())) return false;
  }
  return first.eof() && second.eof();
}

}  // namespace counterspot
