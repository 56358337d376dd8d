#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/model/joints.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/shaft/straightness.hpp"
#include "counterspot/solve/plan.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// What is known besides the shaft's file.
struct AssessmentOptions {
  std::optional<double> balancing_speed_rad_s;  ///< else service speed
  std::optional<double> clamp_holds_N;          ///< what the clamp of a trial weight is stated to hold
  const Stock* stock = nullptr;                 ///< what there is for trial weights, and where it may go
  const Solution* earlier = nullptr;  ///< of a like shaft on this rig, for its coefficients and how bad it was as found
};

/// What a bow makes at one plane.
struct BowAtPlane {
  std::string plane;
  Phasor unbalance_kg_m;
  std::optional<double> limit_kg_m;
};

/// A shaft before it is spun.
struct Assessment {
  std::optional<double> tube_kg;
  BeamSummary beam;
  std::optional<double> critical_rad_s;    ///< the first that is not 0
  std::optional<double> safe_speed_rad_s;  ///< 75 % of it (common practice)
  std::optional<double> service_speed_rad_s;
  std::optional<double> balancing_speed_rad_s;
  std::optional<SpeedStanding> service_standing;
  std::optional<SpeedStanding> balancing_standing;
  std::optional<StraightnessSummary> straightness;
  double indicator_limit_m = 0.0;
  std::vector<BowAtPlane> bow;  ///< first and last plane
  std::optional<JointWords> joints;
  std::vector<PlannedTrial>
      trials;  ///< one per plane, of those that can be planned; empty without a speed or anything to choose by

  /// Nothing speaks against spinning it: straight, and both speeds under 75 % of the first critical speed.
  bool fit_to_spin() const;
};

/// @throws Error(request, …) as critical_speeds, fit_straightness, joint_words and choose_trial ("pull_too_great").
Assessment assess_shaft(const Shaft& shaft, const AssessmentOptions& options = {});

}  // namespace counterspot
