#pragma once

#include "counterspot/drawing/words.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/solve/plan.hpp"
#include "report/json.hpp"

namespace counterspot {

/// All that is shown, and how.
struct ShownPlans {
  const SpinSet& set;
  const Stock& stock;
  const Solution& solution;
  const Correction& correction;
  std::string end;
  UnitSystem units;
  const Words& words = english();

  const std::vector<FittedWeight>& on_shaft() const { return set.spins.back().fitted; }
  Spot spot(double angle_rad) const {
    const auto& tube = set.shaft.tube;
    return spot_at(angle_rad, rotation_seen_from(set.rig, end),
                   tube ? std::optional(tube->outside_diameter_m) : std::nullopt);
  }
  const std::string& plane(int index) const { return set.shaft.planes[static_cast<std::size_t>(index)].name; }
};

Json document_of(const ShownPlans& shown);
std::string text_of(const ShownPlans& shown);

}  // namespace counterspot
