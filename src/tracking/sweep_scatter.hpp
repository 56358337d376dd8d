#pragma once

#include <vector>

#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

/// How much narrower the Vold–Kalman filter is to noise than least squares over one turn, as a part of its power. Its
/// response is 1/(1 + (f/f₀)^2p), with 1/√2 at the bandwidth, so that f₀ = b/(√2 − 1)^(1/2p); the integral of its
/// square over all f is 2 f₀ (1 − 1/2p)(π/2p)/sin(π/2p) (Gradshteyn & Ryzhik 3.241.4, 5), in orders; that of one whole
/// turn, of the same, is 1. At most 1.
double power_let_through(int poles, double bandwidth_orders);

/// The standard uncertainty of each point's vectors from how vectors of single turns scatter: of three turns in a row
/// z₁ − 2z₂ + z₃ has six times the variance of one, and nothing of what changes evenly with speed. Over 25 turns about
/// each point.
/// @param turns vectors of single turns, ascending in time, of the same orders.
void add_scatter(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, double power);

}  // namespace counterspot
