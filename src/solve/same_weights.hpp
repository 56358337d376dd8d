#pragma once

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "influence/design_matrix.hpp"

namespace counterspot {

/// Whether the same is stated to be on the shaft, in whatever order, and it sits alike on the adapters.
inline bool same_weights(const SpinReading& a, const SpinReading& b) {
  return a.turned_rad == b.turned_rad &&
         std::is_permutation(a.fitted.begin(), a.fitted.end(), b.fitted.begin(), b.fitted.end());
}

/// The same of both is the same weights, to find those among many spins.
using WeightsKey = std::pair<std::optional<double>, std::vector<PieceKey>>;
inline WeightsKey weights_key(const SpinReading& spin) {
  WeightsKey key{spin.turned_rad, {}};
  for (const FittedWeight& piece : spin.fitted) key.second.push_back(key_of(piece));
  std::sort(key.second.begin(), key.second.end());
  return key;
}

}  // namespace counterspot
