#pragma once

#include <optional>
#include <string_view>

#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

/// kg·m; empty if the plane has none.
inline std::optional<double> limit_of(const Limits& limits, std::string_view plane) {
  for (const PlaneLimit& limit : limits.planes)
    if (limit.name == plane) return limit.limit_kg_m;
  return std::nullopt;
}

}  // namespace counterspot
