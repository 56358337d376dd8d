#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "counterspot/placement/fitting.hpp"
#include "counterspot/placement/slides.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/shaft/trial.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// What is to be fitted, whoever asks: a shaft's assessment, a job's next step, the choice of pieces. A plane carries
/// no more than it may (`at_most`) with what is on it, and where a stock is stated, pieces of it, where its rules let
/// them be. One weight per plane, of any mass and anywhere, is planned with the solution (PlaneSolution).

/// A correction in the operator's words, at the plane's radius.
FitInstruction instruction_for(const Phasor& correction_kg_m, const Plane& plane, const Rig& rig, const Shaft& shaft);

/// What a trial weight is planned by: before the first spin, or in a job on the way.
struct TrialBasis {
  double speed_rad_s = 0.0;  ///< balancing speed, > 0
  std::optional<double> clamp_holds_N = {};
  std::vector<FittedWeight> on_shaft = {};  ///< counts as part of what a plane may carry
  /// S·P, sensor-major, SI of the sensor per kg·m: of earlier shafts or of this one's spins; 0 where nothing is known.
  std::vector<Phasor> coefficients = {};
  std::vector<Phasor> as_found = {};  ///< S readings, SI
  std::vector<Phasor> present = {};   ///< S, with `on_shaft`; empty: only masses are planned by the coefficients
  const Stock* stock = nullptr;       ///< without one: any mass, anywhere
};

/// Why a trial weight goes where it goes.
enum class TrialPlace {
  at_mark,          ///< nothing says which side is better
  by_coefficients,  ///< where it lessens the vibration most, by what is known of this plane
  by_other_plane    ///< the same by a trial at the other end: both pedestals and both sensors are taken to be alike
};
std::string_view trial_place_words(TrialPlace place);

struct PlannedTrial {
  FittedWeight piece;
  TrialWeight weight;
  TrialPlace place = TrialPlace::at_mark;
  std::string kind = {};  ///< of the stock, if one is stated
};

/// Why there is no plan of a trial weight.
enum class NoTrial {
  nothing_known,    ///< nothing to choose a mass by
  plane_full,       ///< only once something comes off may the plane carry more
  nothing_in_stock  ///< no piece of it may go there
};

/// The trial weight of one plane. The load is that of the support which feels the plane most, by the levers of the
/// centre of mass; it goes where Σ_s |Z_s + α_s w|² falls fastest, at arg w = arg(−Σ conj(α_s) Z_s). Of a stock: the
/// piece that comes nearest to that mass, a clamp where there is one, since it comes off again (common practice, no
/// source), at the open position nearest to that angle.
/// @throws Error as choose_trial, "no_basis" excepted, and as limits_of.
std::variant<PlannedTrial, NoTrial> plan_trial(const Shaft& shaft, std::size_t plane, const TrialBasis& basis);

/// A twentieth of a limit: about what setting a usual correction to 1 % of mass and 1 deg leaves, so that what lies
/// nearer together on paper is alike on the shaft (common practice, no source).
inline constexpr double alike_on_the_shaft = 0.05;

struct CorrectionOptions {
  FittingOptions fitting;
  bool temporary = true;           ///< clamps may be used
  bool permanent = true;           ///< welded pieces and removal may be used
  std::optional<int> gather;       ///< plane whose weights become one welded piece
  double step_rad = radians(1.0);  ///< of positions "anywhere"
};

/// From a solution to what the operator does.
struct Correction {
  Aim aim;                 ///< residual unbalance of the last spin at planes and supports, with limits, kg·m
  FittingSummary fitting;  ///< on top of what is on the shaft
  std::optional<FittingSummary> fewer;     ///< with ratios alike on the shaft, if that takes fewer pieces
  std::vector<std::string> closed;         ///< planes that the stock's rules close
  std::optional<FittingSummary> if_open;   ///< with a closed plane: what could be reached if it were open
  std::vector<Plan> plans;                 ///< with pieces on the shaft
  std::optional<FittingSummary> gathered;  ///< if asked for
  std::vector<std::string>
      left_out;  ///< kinds whose clamp is stated to hold less than they would pull at balancing speed
};

/// @param on_shaft what is fitted at the last spin.
/// @throws Error as choose_pieces and gather_into_weld; (request, "nothing_to_place") if the stock has nothing that may
/// be used.
Correction plan_correction(const Shaft& shaft, const Solution& solution, const Stock& stock,
                           const std::vector<FittedWeight>& on_shaft, const CorrectionOptions& options = {});

/// The kinds of the stock that may be used: as asked, and clamps only where they hold their lump at this speed.
/// @param left_out takes the names of those that would not hold.
Stock usable_stock(const Stock& stock, const Shaft& shaft, std::optional<double> speed_rad_s,
                   const CorrectionOptions& options, std::vector<std::string>& left_out);

}  // namespace counterspot
