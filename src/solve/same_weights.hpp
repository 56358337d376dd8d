#pragma once

#include <algorithm>

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// Whether the same is stated to be on the shaft, in whatever order, and it sits alike on the adapters.
inline bool same_weights(const SpinReading& a, const SpinReading& b) {
  return a.turned_rad == b.turned_rad &&
         std::is_permutation(a.fitted.begin(), a.fitted.end(), b.fitted.begin(), b.fitted.end());
}

}  // namespace counterspot
