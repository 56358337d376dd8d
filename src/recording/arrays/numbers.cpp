#include "recording/arrays/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstdint>
#include <cstring>

namespace counterspot {

namespace {

template <typename Number>
void decode_as(const char* bytes, std::size_t stride, bool swapped, std::span<double> values) {
  for (double& value : values) {
    char stored[sizeof(Number)];
    std::memcpy(stored, bytes, sizeof stored);
    if (swapped) std::reverse(stored, stored + sizeof stored);
    Number number;
    std::memcpy(&number, stored, sizeof number);
    value = static_cast<double>(number);
    bytes += stride;
  }
}

}  // namespace

bool is_double(const NumberType& type) {
  return type.kind == NumberType::Kind::floating && type.bytes == sizeof(double) &&
         type.big_endian == (std::endian::native == std::endian::big);
}

std::string words_of(const NumberType& type) {
  using Kind = NumberType::Kind;
  const char* kind = type.kind == Kind::floating         ? "float"
                     : type.kind == Kind::unsigned_whole ? "whole numbers from 0 on"
                                                         : "whole numbers";
  return fmt::format("{}-bit {}", 8 * type.bytes, kind);
}

int digits_of(const NumberType& type) {
  if (type.kind == NumberType::Kind::floating) return type.bytes == 4 ? 24 : 53;
  return static_cast<int>(8 * type.bytes);
}

void decode_numbers(const char* bytes, std::size_t stride, const NumberType& type, std::span<double> values) {
  const bool swapped = type.bytes > 1 && type.big_endian != (std::endian::native == std::endian::big);
  if (type.kind == NumberType::Kind::floating) {
    if (is_double(type) && stride == sizeof(double)) {
      std::memcpy(values.data(), bytes, values.size_bytes());
    } else {
      type.bytes == 8 ? decode_as<double>(bytes, stride, swapped, values)
                      : decode_as<float>(bytes, stride, swapped, values);
    }
    return;
  }
  const bool with_sign = type.kind == NumberType::Kind::signed_whole;
  switch (type.bytes) {
    case 1:
      return with_sign ? decode_as<std::int8_t>(bytes, stride, swapped, values)
                       : decode_as<std::uint8_t>(bytes, stride, swapped, values);
    case 2:
      return with_sign ? decode_as<std::int16_t>(bytes, stride, swapped, values)
                       : decode_as<std::uint16_t>(bytes, stride, swapped, values);
    case 4:
      return with_sign ? decode_as<std::int32_t>(bytes, stride, swapped, values)
                       : decode_as<std::uint32_t>(bytes, stride, swapped, values);
    default:
      return with_sign ? decode_as<std::int64_t>(bytes, stride, swapped, values)
                       : decode_as<std::uint64_t>(bytes, stride, swapped, values);
  }
}

}  // namespace counterspot
