#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace counterspot {

/// The upper one of the two in the middle if their number is even. @param values at least one.
inline double median_of(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace counterspot
