#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/shaft.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

/// One thing that is held against a limit, and what a weight does to it: |present + Σ_p effect_p·w_p| ≤ limit, with w_p
/// in kg·m the unbalance that is fitted at plane p. For residual unbalance at plane p the effect is 1 there and 0
/// elsewhere; for a sensor it is the influence coefficient.
struct AimRow {
  HeldPlace place;
  Phasor present;
  std::vector<Phasor> effect;  ///< one per plane
  double limit = 0.0;          ///< > 0, in the unit of `present`
};
using Aim = std::vector<AimRow>;

/// Rows of the shaft's planes that have a limit, and of its supports if limits are given there, as a rigid rotor
/// carries U_p to them (lever_to_support).
Aim aim_at_unbalance(const Shaft& shaft, const std::vector<Phasor>& residual_kg_m,
                     const std::vector<PlaneLimit>& planes, const std::vector<SupportLimit>& supports);

/// The largest |present + Σ effect·w|/limit. 0 without rows.
double worst_ratio(const Aim& aim, const std::vector<Phasor>& fitted_kg_m);

/// What may be done at one plane.
struct PlaneSites {
  std::string name;
  double radius_m = 0.0;                                          ///< > 0
  std::vector<double> positions_rad;                              ///< open ones, what is there already taken out
  double smallest_gap_rad = 0.0;                                  ///< between two pieces; two never share a position
  int most_pieces = 2;                                            ///< that may still be fitted; 0: closed
  double most_mass_kg = std::numeric_limits<double>::infinity();  ///< that may still be fitted, weighed
  double room_kg = std::numeric_limits<double>::infinity();       ///< that may still be fitted, acting
};

/// What may still be fitted at a plane that allows no more than `at_most_kg` in all: that, less what is on it. Trial
/// weights, corrections and choices of pieces keep to it. Infinity if the plane says nothing; metal that was taken off
/// makes no room.
double room_kg(const Plane& plane, int index, const std::vector<FittedWeight>& on_shaft);

/// The same of every plane, at its radius. kg·m.
std::vector<double> room_kg_m(const Shaft& shaft, const std::vector<FittedWeight>& on_shaft);

/// The sites of every plane: rules of the stock, less what is fitted now. The gap along the surface becomes an angle by
/// the tube's diameter, or by the plane's radius if there is no tube.
std::vector<PlaneSites> sites_of(const Shaft& shaft, const Stock& stock, const std::vector<FittedWeight>& on_shaft,
                                 double step_rad = radians(1.0));

/// A piece at its place.
struct Placed {
  int plane = 0;
  Piece piece;
  double angle_rad = 0.0;
  double radius_m = 0.0;  ///< of its centre of mass
  Phasor unbalance_kg_m() const { return piece.acting_kg * radius_m * phasor_at(1.0, angle_rad); }
};

/// A row is left to a closed plane if every open one moves it less than this share of what the closed one does.
inline constexpr double least_share_of_open_planes = 0.2;

struct FittingProblem {
  Aim aim;
  std::vector<Piece> pieces;
  std::vector<std::optional<int>> counts;  ///< how many there are, by Piece::kind; empty: as many as wanted
  std::vector<PlaneSites> planes;
};

struct FittingOptions {
  /// 0: the least worst ratio, however many pieces it takes. Else worst ratios in one step of this size count as alike,
  /// and the fewer pieces win.
  double resolution = 0.0;
  std::function<bool()> out_of_time;  ///< asked now and then; empty: work to the end
};

enum class FittingStatus {
  optimal,      ///< proven: nothing that obeys the rules is better
  out_of_time,  ///< the best that was found; `bound_ratio` says how far better could be
};

struct FittingSummary {
  FittingStatus status = FittingStatus::optimal;
  std::vector<Placed> placed;
  double worst_ratio = 0.0;  ///< of the rows that open planes are there for
  double fixed_ratio = 0.0;  ///< of the others, with the pieces fitted; 0 if there are none
  double bound_ratio = 0.0;  ///< no arrangement can have a smaller worst_ratio; equals worst_ratio's step if optimal
  double weighed_kg = 0.0;   ///< sum of the pieces
  std::vector<Phasor> predicted;  ///< of every row, its own unit
  std::uint64_t looked_at = 0;    ///< arrangements and parts of such
};

/// Chooses pieces and positions for all planes together: least worst ratio (in steps of `resolution`), then fewest
/// pieces, then least weighed mass, then the least ratio itself. Method: branch and bound over the number of pieces
/// (fewest first) and the planes. With the rows scaled by their limits, A·w = r − b and |r_i| ≤ t hold for every
/// arrangement better than t, so that w_p lies within t·Σ_i |A⁺_pi| (and within ‖A⁺_p‖·√(m·t² − ρ²), ρ the residual of
/// least squares) of the least-squares correction: only loads of a plane within that circle are formed, the last piece
/// of each by a search in the plane of vectors. Levels end when the bound ρ/√m is in the same step as the best.
/// Assumptions: the rows are linear in w and tell the open planes apart; positions are the ones stated ("anywhere" is a
/// list too).
/// @throws Error(request, …) "no_limit" (no rows), "planes_not_told_apart".
FittingSummary choose_pieces(const FittingProblem& problem, const FittingOptions& options = {});

}  // namespace counterspot
