#pragma once

#include <cstdint>

#include "tracking/cells.hpp"
#include "tracking/order_fit.hpp"

namespace counterspot {

/// How often a sensor's signal went away or its level stepped, as a cable does whose contact comes and goes.
///  - Gone: the variance within a turn falls under a twentieth of the median, while it was over half of it two turns
///  before or is two turns behind. A beat does not fall so fast unless it is as strong as the order and a few turns
///  long.
///  - Stepped: over three turns the mean level moves by eight times what is usual, and by a fifth of the signal's root
///  mean square, and is still there, on the same side, for four turns. What a knock leaves swings to both sides, or is
///  gone in a turn.
/// The limits are common practice, no source. Breaks nearer than ten turns count as one.
std::int64_t breaks_of_contact(const Cells& cells, CellRange range, std::size_t sensor);

}  // namespace counterspot
