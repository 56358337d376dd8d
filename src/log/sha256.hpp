#pragma once

#include <nettle/sha2.h>

#include <span>
#include <string>
#include <string_view>

namespace counterspot {

/// SHA-256 (FIPS 180-4) of bytes as they come.
class Sha256 {
 public:
  Sha256();
  void add(std::span<const char> bytes);
  /// Of all that was added, 64 lower-case hexadecimal digits; then it begins anew.
  std::string text();

 private:
  sha256_ctx context_{};
};

std::string sha256_of(std::string_view text);

}  // namespace counterspot
