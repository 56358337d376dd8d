#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/files.hpp"
#include "counterspot/influence.hpp"
#include "counterspot/modal.hpp"
#include "counterspot/placement.hpp"
#include "counterspot/repeats.hpp"
#include "counterspot/tolerance.hpp"
#include "counterspot/tracking.hpp"

namespace counterspot {

/// Order 2 is measured along: it is no unbalance, and is said where it is large.
inline TrackOptions with_order_2() {
  TrackOptions options;
  options.orders = {1, 2};
  return options;
}

struct SolveOptions {
  double speed_tolerance = 0.01;  ///< spins further apart belong to another speed
  TrackOptions tracking = with_order_2();
  InfluenceOptions influence;  ///< its `setting` is taken from the rig, its limits from the planes unless given
};

/// What to fit at one plane, in the operator's words.
struct FitInstruction {
  double mass_kg = 0.0;  ///< ≥ 0
  double radius_m = 0.0;
  double angle_rad = 0.0;        ///< shaft angle, [0, 2π)
  ClockPosition clock;           ///< as read at the rig's viewing end
  std::optional<ArcLength> arc;  ///< if the tube's diameter is known
};

struct PlaneSolution {
  std::string name;
  std::optional<double> limit_kg_m;
  Phasor residual_kg_m;                 ///< at the last spin
  Eigen::Matrix2d residual_covariance;  ///< (kg·m)²
  double u_residual_kg_m = 0.0;         ///< of the magnitude
  FitInstruction correction;
  double predicted_residual_kg_m =
      0.0;  ///< root-mean-square of what will be left after a correction fitted with the rig's setting uncertainty
};

/// From spins to a verdict: the main job.
struct Solution {
  std::optional<double> speed_rad_s;   ///< to which all spins were brought
  std::vector<Motion> motions;         ///< of the coefficients, one a sensor
  std::vector<Track> tracks;           ///< of the recorded spins, in order
  std::vector<SpinReading> readings;   ///< of all spins, in order, at that speed, before repeats are taken together
  std::vector<RepeatScatter> repeats;  ///< one a sensor if spins with the same weights were repeated
  InfluenceSummary influence;          ///< repeated spins taken together
  Limits limits;
  Judgement judgement;           ///< at the planes, the supports, and of a flexible shaft its modes
  RigidParts rigid;              ///< of the residual
  std::vector<ModalPart> modes;  ///< of the residual, of a flexible shaft
  std::vector<PlaneSolution> planes;
  Warnings warnings;  ///< all of them, those of the spins with their label
};

/// @throws Error as track() does; Error(request, …) "speeds_differ", "mixed_motion", and the codes of the influence
/// statuses
///         ("too_few_spins", "trials_alike", "trial_no_effect", "planes_alike", "too_few_sensors").
Solution solve(const SpinSet& spins, const SolveOptions& options = {});

/// If a spin showed a large order 2: what the shaft's joints have to do with it, and what to do.
std::optional<Warning> joints_and_order_2(const Warnings& of_spins, const Shaft& shaft);

/// Spins whose speeds differ by more than the tolerance are several speeds of one regression (solve_speeds) if each has
/// the trial spins it needs; else they are refused ("speeds_differ").
/// The same from readings that are already measured (used by solve, by a job, and by tests).
Solution solve_readings(const Rig& rig, const Shaft& shaft, const std::vector<SpinReading>& readings,
                        const std::vector<Motion>& motions, const SolveOptions& options = {});

/// Brings vectors of spins at slightly different speeds to one speed Ω₀, a change of ΔΩ = Ω₀ − Ω.
///  - Where the spin itself showed how the vector changes (slopes): Z + ΔΩ·dZ/dΩ, with |ΔΩ|·u(dZ/dΩ) in either part
///  added
///    to the uncertainty, and ½ΔΩ²·|d²Z/dΩ²| (largest_curvature) in a direction not known.
///  - Else Z·(Ω₀/Ω)^n, n of growth_exponent; its ± 1 is taken as a standard uncertainty along the vector. Not valid
///  near
///    a resonance.
/// A covariance that is not known stays so. How far apart speeds may be is SolveOptions::speed_tolerance.
SpinReading bring_to_speed(const SpinReading& reading, const std::vector<Motion>& motions, double speed_rad_s);

}  // namespace counterspot
