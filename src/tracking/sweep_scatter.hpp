#pragma once

#include <functional>
#include <vector>

#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

/// The response of the Vold–Kalman filter so far from the order: 1/(1 + (f/f₀)^2p), with 1/√2 at the bandwidth, so that
/// f₀ = b/(√2 − 1)^(1/2p).
double let_through(int poles, double bandwidth_orders, double apart_orders);

/// How much narrower the filter is to noise than least squares over one turn, as a part of its power. The integral of
/// the square of its response over all f is 2 f₀ (1 − 1/2p)(π/2p)/sin(π/2p) (Gradshteyn & Ryzhik 3.241.4, 5), in
/// orders; that of one whole turn, of the same, is 1. At most 1.
double power_let_through(int poles, double bandwidth_orders);

/// The standard uncertainty of each point's vectors from how vectors of single turns scatter: of three turns in a row
/// z₁ − 2z₂ + z₃ has six times the variance of one, and nothing of what changes evenly with speed. Over 25 turns about
/// each point.
/// @param turns vectors of single turns, ascending in time, of the same orders.
void add_scatter(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, double power);

/// Widens the standard uncertainty of orders that come near to a line by what its bridge leaves of it in them: all of
/// it where they pass it, beside it what the filter lets through.
/// @param gain of the filter at an offset, in orders, from the order.
void add_bridges(Sweep& sweep, const std::function<double(double)>& gain);

}  // namespace counterspot
