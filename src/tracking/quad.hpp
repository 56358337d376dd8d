#pragma once

#include <cstring>

namespace counterspot {

/// Four numbers that the processor takes in one step where it can (a vector of GCC and clang).
using Quad = double __attribute__((vector_size(32)));

[[gnu::always_inline]] inline void load(const double* x, Quad& four) {
  std::memcpy(&four, x, sizeof four);
}
[[gnu::always_inline]] inline void load(const float* x, Quad& four) {
  using Floats = float __attribute__((vector_size(16)));
  Floats narrow;
  std::memcpy(&narrow, x, sizeof narrow);
  four = __builtin_convertvector(narrow, Quad);
}

[[gnu::always_inline]] inline void store(const Quad& four, double* x) {
  std::memcpy(x, &four, sizeof four);
}

}  // namespace counterspot
