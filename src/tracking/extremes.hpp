#pragma once

#include <cstddef>
#include <limits>
#include <span>

namespace counterspot {

struct Extremes {
  double low = 0.0;
  double high = 0.0;
};

/// @param samples at least one.
Extremes extremes_of(std::span<const double> samples);

/// Between samples that follow one another, where they differ at all; else no_step.
double smallest_step(std::span<const double> samples);
inline constexpr double no_step = std::numeric_limits<double>::infinity();

std::size_t count_above(std::span<const double> samples, double level);

}  // namespace counterspot
