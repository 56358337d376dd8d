#pragma once

#include "tracking/cells.hpp"
#include "tracking/order_fit.hpp"

namespace counterspot {

/// (largest − smallest)/mean of the speed, smoothed over 16 turns, or over a quarter of a short spin.
double drift_of(const Cells& cells, CellRange range);

/// The cells to use: all of them while the speed drifts by less than 5 % (that is a spin, and its drift is reported),
/// else the longest stretch, in turns, whose speed stays within 2 % from lowest to highest, smoothed over five cells.
CellRange steady_range(const Cells& cells);

}  // namespace counterspot
