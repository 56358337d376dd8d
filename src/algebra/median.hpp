#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

#include "algebra/rank.hpp"

namespace counterspot {

/// The upper one of the two in the middle if their number is even. @param values at least one.
inline double median_of(std::vector<double> values) {
  return value_at_rank(values, values.size() / 2);
}

/// The mean of the two in the middle if their number is even. @param values at least one.
inline double even_median_of(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

}  // namespace counterspot
