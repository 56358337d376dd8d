#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// All within 2 % of a speed.
inline bool one_speed(const std::vector<SpinReading>& spins, double speed_rad_s) {
  constexpr double speed_alike = 0.02;
  return std::all_of(spins.begin(), spins.end(), [&](const SpinReading& spin) {
    return spin.speed_rad_s && std::abs(*spin.speed_rad_s / speed_rad_s - 1.0) < speed_alike;
  });
}

/// Whether the shaft stood otherwise to its adapters: then the adapters' unbalance would look like the shaft's.
inline bool turned_in_between(const std::vector<SpinReading>& spins) {
  return std::any_of(spins.begin(), spins.end(), [&](const SpinReading& spin) {
    return spin.turned_rad.value_or(0.0) != spins.front().turned_rad.value_or(0.0);
  });
}

}  // namespace counterspot
