#pragma once

#include <cstdint>

#include "tracking/cells.hpp"
#include "tracking/order_fit.hpp"

namespace counterspot {

/// How often a sensor's signal went away or its level stepped, as a cable does whose contact comes and goes.
///  - Gone: the variance within two turns in a row falls under a twentieth of the median, or within one under a five
///  hundredth, while it was over half of it two turns before or is two turns behind. What a belt at order 0.43 makes
///  within a turn can be nearly undone by order 1, but for one turn and not so nearly; a beat that lasts longer does
///  not fall so fast.
///  - Stepped: over three turns the mean level moves by eight times what is usual, and by a fifth of the signal's root
///  mean square, and is still there, on the same side, for four turns. What a knock leaves swings to both sides, or is
///  gone in a turn.
/// The limits are common practice, no source. Breaks nearer than ten turns count as one.
std::int64_t breaks_of_contact(const Cells& cells, CellRange range, std::size_t sensor);

}  // namespace counterspot
