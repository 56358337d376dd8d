#pragma once

#include <Eigen/Core>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/model/shaft.hpp"

namespace counterspot {

/// Qualification of a rig with a reference shaft and test masses, after ISO 21940-21 (from memory; where we depart, it
/// is said): two sensors, two planes.
enum class RigPlace { sensors, separation, smallest_residual, reduction, speed, adapters };
std::string_view rig_place_name(RigPlace place);

/// Readings of the small test mass over their mean must lie so near to one, one of twelve excepted.
inline constexpr double small_mass_band = 0.12;

/// One spin of a work on a rig: `report/rig_step_words.hpp` says it to people.
struct PlannedRigSpin {
  RigPlace place{};
  std::vector<FittedWeight> fitted;  ///< all test masses on the reference shaft
  double speed_fraction = 1.0;       ///< of the balancing speed
  double turned_rad = 0.0;           ///< the shaft against its adapters
};

/// 34 spins: 3 that calibrate; 12 positions of 5 Umar in both planes; 11 of a travelling mass of 100 Umar beside a
/// stationary one of 20; 4 at 90 % and 110 % of the speed; 4 with the shaft turned. What comes next is the number of
/// spins made. @throws Error(request, "not_two_planes").
std::vector<PlannedRigSpin> qualification_plan(const Shaft& reference, const RigClaims& claims);

struct RigSpin {
  std::vector<Phasor> vectors;               ///< one per sensor, SI
  std::vector<Eigen::Matrix2d> covariances;  ///< SI²
  double speed_rad_s = 0.0;
  std::optional<std::vector<FittedWeight>> fitted = {};  ///< what was really fitted; empty: what the plan says
};

enum class RigVerdict { passed, failed, not_judged };
std::string_view rig_verdict_name(RigVerdict verdict);

struct RigFinding {
  RigPlace place{};
  RigVerdict verdict = RigVerdict::not_judged;
  double measured = 0.0;  ///< as `allowed`
  double allowed = 0.0;
  std::string words;  ///< one sentence: what was measured, and what to look at if it failed
};

struct Qualification {
  bool passed = false;
  std::vector<RigFinding> findings;   ///< one per place
  Eigen::Matrix2cd coefficients;      ///< found now, sensor × plane, SI per kg·m; the record of a rig that passed
  std::array<double, 2> umar_kg_m{};  ///< of what was read: twice the scatter, each plane
  double reduction = 0.0;             ///< the worst of 11
  double remount_kg_m = 0.0;          ///< scatter from one mounting to the next, one standard deviation
  std::array<Phasor, 2> adapters_kg_m;
  std::array<std::vector<double>, 2> small_over_mean;  ///< 12 each plane: readings of the small test mass
  std::array<std::vector<double>, 2> reductions;       ///< 11 each plane
};

/// @param spins one per planned spin, in its order; @param record coefficients of the last qualification of this rig
/// with this reference shaft. A rig that does not repeat is judged for nothing else; where the speed changes readings
/// beyond the rule the pedestals have changed, and sensors are not judged against the record.
/// @throws Error(request, "spins_missing"), and "too_few_spins" and its kind if the test masses do not calibrate.
Qualification qualify(const Rig& rig, const Shaft& reference, const RigClaims& claims,
                      const std::vector<RigSpin>& spins, const std::vector<Motion>& motions,
                      const std::optional<Eigen::Matrix2cd>& record = {});

}  // namespace counterspot
