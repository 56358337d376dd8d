#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/job/solution.hpp"
#include "counterspot/placement/fitting.hpp"
#include "counterspot/placement/slides.hpp"
#include "counterspot/placement/stock.hpp"

namespace counterspot {

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
