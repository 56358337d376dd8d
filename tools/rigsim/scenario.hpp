#pragma once

#include <array>
#include <cstdint>
#include <string>

#include "rigsim/truth.hpp"

namespace rigsim {

struct PlaneTruth {
  std::string name;
  double position_m = 0.0;
  double radius_m = 0.0;
};

struct TubeSize {
  double outside_diameter_m = 0.0;
  double wall_m = 0.0;
};

/// A rig, a shaft on it, and what the shop knows about the shaft.
struct Scenario {
  std::string rig_name;
  std::string shaft_id;
  RigTruth rig;
  ShaftTruth shaft;
  TubeSize tube;
  std::array<PlaneTruth, 2> planes;
  double service_rad_s = 0.0;
  double balancing_rad_s = 0.0;

  std::array<double, 2> plane_positions_m() const { return {planes[0].position_m, planes[1].position_m}; }
};

/// Total permissible residual unbalance in G16 at service speed, U = G·m/Ω (ISO 21940-11:2016), for choosing how bad a
/// shaft is as found. kg·m.
double g16_total_kg_m(const Scenario& scenario);

/// The demonstration: a pump shaft of 3 in tube at the Marrow Creek workshop, on its rig in bay 2.
Scenario marrow_creek();

/// A shaft and a rig out of the whole range of the trade: tubes of 1¼ to 4 in, soft and hard pedestals, noise of a calm
/// and of a busy floor. @param times_limit the larger as-found unbalance of the two planes over half of the total
/// limit.
Scenario random_scenario(std::uint64_t seed, double times_limit);

/// A weight as it really sits, at the plane's radius.
UnbalanceSlice piece_at(const PlaneTruth& plane, double mass_kg, double angle_rad);

/// A steady spin at the balancing speed: the drive is not exactly there (0.1 %), hunts a little, starts anywhere.
SpinTruth steady_spin(const Scenario& scenario, double duration_s, std::uint64_t seed);

}  // namespace rigsim
