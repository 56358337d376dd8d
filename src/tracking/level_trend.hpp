#pragma once

#include "tracking/cells.hpp"
#include "tracking/order_fit.hpp"

namespace counterspot {

/// Takes the slow movement of a sensor's rest level off its sums. A level that rises by b a turn looks, over whole
/// turns, like an order k of b/(πk) in quadrature to the tach's edge (the Fourier series of a saw-tooth), however long
/// the recording. The level is a broken line, fitted by least squares to the means that `fit` leaves of the cells, with
/// a corner for every eight cells at least: as the ramps within the turns add up to what the level moves in all, the
/// noise of the fit costs next to nothing.
/// @return how far the level moved from the beginning to the end of the range, in units of a sample.
double take_off_trend(Cells& cells, CellRange range, std::size_t sensor, const OrderFit& fit);

}  // namespace counterspot
