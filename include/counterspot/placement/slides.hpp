#pragma once

#include <string_view>
#include <vector>

#include "counterspot/placement/fitting.hpp"

namespace counterspot {

/// What a plan asks of the operator, the least effort first.
enum class Effort { slide_one, slide_two, swap_one, add_one };
std::string_view effort_name(Effort effort);  ///< "slide one", …

/// A fitted piece moved round its plane.
struct Slide {
  std::size_t fitted = 0;  ///< index into what is on the shaft
  double to_rad = 0.0;     ///< shaft angle
};

/// One way on from what is on the shaft.
struct Plan {
  Effort effort = Effort::slide_one;
  std::vector<Slide> slides;
  std::vector<std::size_t> taken_off;  ///< indices into what is on the shaft
  std::vector<Placed> added;
  double worst_ratio = 0.0;       ///< of all rows
  std::vector<Phasor> predicted;  ///< of every row
};

/// The best plan of each effort that betters the worst ratio, and that of the plan before it, by 0.05 of a limit or
/// more, in order of effort. Each is the best of all of its kind (all pieces, all open positions are looked at, no
/// piece is slid by less than 2 deg), by worst ratio, then the shorter way.
/// @param shaft, stock where pieces may go; @param aim as it is now, with `on_shaft` fitted.
/// Assumptions: a piece keeps mass and radius when it slides; metal that was taken off cannot slide; pieces of a closed
/// plane stay.
std::vector<Plan> plans_from_here(const Shaft& shaft, const Stock& stock, const Aim& aim,
                                  const std::vector<FittedWeight>& on_shaft, double step_rad = radians(1.0));

/// The reverse: all that is fitted at a plane (clamps for the trial) becomes one welded piece. The choice is that of
/// choose_pieces with one welded piece at that plane and nothing elsewhere.
/// @throws Error(request, "nothing_to_gather") with fewer than two weights at the plane, "no_weld_pieces".
FittingSummary gather_into_weld(const Shaft& shaft, const Stock& stock, const Aim& aim,
                                const std::vector<FittedWeight>& on_shaft, int plane,
                                const FittingOptions& options = {});

}  // namespace counterspot
