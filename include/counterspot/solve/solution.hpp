#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/files/files.hpp"
#include "counterspot/influence/influence.hpp"
#include "counterspot/placement/placement.hpp"
#include "counterspot/shaft/modal.hpp"
#include "counterspot/solve/adapters.hpp"
#include "counterspot/solve/repeats.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/tracking/tracking.hpp"

namespace counterspot {

/// Order 2 is measured along: it is no unbalance, and is said where it is large.
inline TrackOptions with_order_2() {
  TrackOptions options;
  options.orders = {1, 2};
  return options;
}

/// What is known of the rig beside its file, and has a part in the verdict.
struct RigKnowledge {
  std::optional<Adapters> adapters;  ///< taken away if every spin says how the shaft stands to them
  double remount_kg_m = 0.0;         ///< from one mounting to the next, in each plane, one standard deviation
  double umar_kg_m = 0.0;            ///< twice what readings scatter by in each plane
  Warnings noticed = {};             ///< what is known to be wrong with it
  /// From spin to spin with nothing changed, beyond the recordings' noise, as a part of the reading: from earlier jobs.
  std::optional<double> repeat_fraction = {};
  std::vector<SpinReading> earlier = {};  ///< the last spins of the newest jobs with these sensors, for their levels
};

struct SolveOptions {
  double speed_tolerance = 0.01;  ///< spins further apart belong to another speed
  TrackOptions tracking = with_order_2();
  RigKnowledge rig;
  InfluenceOptions influence;  ///< its `setting` is taken from the rig, its limits from the planes unless given
  /// The pieces of the last spin that are trial weights and usually come off; without it those that `trial_pieces`
  /// finds.
  std::optional<std::vector<FittedWeight>> trial_weights;
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
  FitInstruction correction;            ///< on top of what the last spin carried
  double predicted_residual_kg_m =
      0.0;  ///< root-mean-square of what will be left after a correction fitted with the rig's setting uncertainty
  FitInstruction correction_bare;  ///< once the trial weights are off; the same if none is on
  double predicted_bare_kg_m = 0.0;
};

/// From spins to a verdict: the main job.
struct Solution {
  std::optional<double> speed_rad_s;   ///< to which all spins were brought
  std::vector<Motion> motions;         ///< of the coefficients, one per sensor
  std::vector<Track> tracks;           ///< of the recorded spins, in order
  std::vector<SpinReading> readings;   ///< of all spins, in order, at that speed, before repeats are taken together
  std::vector<RepeatScatter> repeats;  ///< one per sensor if spins with the same weights were repeated
  InfluenceSummary influence;          ///< repeated spins taken together
  Limits limits;
  Judgement judgement;           ///< at the planes, the supports, and of a flexible shaft its modes; what holds it back
  RigidParts rigid;              ///< of the residual
  std::vector<ModalPart> modes;  ///< of the residual, of a flexible shaft
  std::optional<double> wanted_speed_rad_s;  ///< at which spins would show a mode that those made do not
  std::vector<PlaneSolution> planes;
  std::vector<FittedWeight> trial_weights;  ///< on in the last spin; off for `correction_bare`
  Warnings warnings;  ///< gathered, with the spins they hold for; not what `judgement.held_back` says
};

/// The spins of a file, measured.
struct MeasuredSpins {
  std::vector<SpinReading> readings;
  std::vector<Motion> motions;
  std::vector<Track> tracks;  ///< of the recorded ones
};
/// @throws Error as track() does; Error(request, "mixed_motion").
MeasuredSpins measured(const SpinSet& spins, const SolveOptions& options = {});

/// @throws Error as track() does; Error(request, …) "speeds_differ", "mixed_motion", and the codes of the influence
/// statuses
///         ("too_few_spins", "trials_alike", "trial_no_effect", "planes_alike", "too_few_sensors").
Solution solve(const SpinSet& spins, const SolveOptions& options = {});

/// The rig's part in what a residual is unsure by, combined with the rest after ISO 21940-14 (from memory: errors are
/// to be known, systematic ones corrected where they can be, and the rest combined; the combination is that of
/// independent errors, GUM 5.1.2):
///  - adapters that were not taken away: |U| is known and its direction to the shaft's mark is not, so ½|U|² of each
///  part;
///  - mounting: its variance, once, since the residual is that of one mounting;
///  - repeatability: (Umar/2)² less what the readings' own noise already makes.
/// A sensor's sensitivity has no part: the coefficients are found through the same sensor, and it cancels.
void add_rig_errors(InfluenceSummary& influence, const RigKnowledge& rig, const Shaft& shaft, bool adapters_taken_away);

/// The budget as people read it: one row per source, one column per place that is held.
struct BudgetRow {
  ErrorSource source{};
  std::vector<double> u_kg_m;  ///< standard, of the magnitude of the residual at each place
};
struct BudgetTable {
  std::vector<std::string> places;
  std::vector<BudgetRow> rows;
};
BudgetTable budget_table(const Solution& solution, const Shaft& shaft);

/// The weights of the last spin that tell the planes apart and are no correction: those that were on before the spins
/// sufficed for an answer. What was fitted later was fitted to stay.
std::vector<FittedWeight> trial_pieces(const std::vector<SpinReading>& spins, std::size_t planes);
/// The same, where something else says whether the first spins sufficed.
std::vector<FittedWeight> trial_pieces(const std::vector<SpinReading>& spins,
                                       const std::function<bool(const std::vector<SpinReading>&)>& suffice);

/// What is left of pieces when others are taken away, each as often as it is named.
std::vector<FittedWeight> pieces_without(std::vector<FittedWeight> pieces, const std::vector<FittedWeight>& taken);

/// Whether the weights of these spins tell all planes apart.
bool weights_suffice(const std::vector<SpinReading>& spins, std::size_t planes);

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
