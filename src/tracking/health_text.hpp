#pragma once

#include <fmt/format.h>

#include <cstdint>
#include <string>

namespace counterspot {

inline std::string plural(std::int64_t n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

}  // namespace counterspot
