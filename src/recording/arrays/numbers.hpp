#pragma once

#include <cstddef>
#include <span>
#include <string>

namespace counterspot {

/// How a number is stored.
struct NumberType {
  enum class Kind { signed_whole, unsigned_whole, floating } kind = Kind::floating;
  std::size_t bytes = 8;  ///< 1, 2, 4 or 8; of floating ones 4 or 8
  bool big_endian = false;
};

/// Whether it is the machine's own double.
bool is_double(const NumberType& type);

/// "64-bit float", "16-bit whole numbers".
std::string words_of(const NumberType& type);

/// Binary digits that a number of this type has: 24, 53, or those of a whole number.
int digits_of(const NumberType& type);

/// Numbers from bytes, one every `stride` bytes; beyond 53 binary digits they are rounded.
void decode_numbers(const char* bytes, std::size_t stride, const NumberType& type, std::span<double> values);

}  // namespace counterspot
