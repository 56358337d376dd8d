#pragma once

#include <functional>
#include <span>
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

/// How much more of the power of noise the filter lets through near the ends of a run than inside, where it has two
/// sides: with two poles four times as much at the very end. It is what the filter itself makes of noise, and depends
/// on the distance from the end in turns times the bandwidth in orders.
class NearEnds {
 public:
  NearEnds(int poles, double bandwidth_orders, double run_turns);
  double more_power(double turns_from_begin) const;

 private:
  double run_turns_;
  double step_turns_;
  std::vector<double> more_;  // step by step from one end to the other, or to where ends are forgotten
};

/// The standard uncertainty of each point's vectors from how vectors of single turns scatter: of three turns in a row
/// z₁ − 2z₂ + z₃ has six times the variance of one, and nothing of what changes evenly with speed. Over 25 turns about
/// each point.
/// @param turns vectors of single turns, ascending in time, of the same orders.
/// @param power that the filter lets through of each point, as a part of what a turn does.
void add_scatter(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, std::span<const double> power);

/// Widens the standard uncertainty by what the filter rounds off where a vector bends within its memory, as at a
/// resonance: the mean, over as many turns as it remembers, of how far it is from the vectors of single turns.
/// @param points with their scatter. @param turns as above.
void add_smear(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, double bandwidth_orders);

/// Widens the standard uncertainty of orders that come near to a line by what its bridge leaves of it in them: all of
/// it where they pass it, beside it what the filter lets through.
/// @param gain of the filter at an offset, in orders, from the order.
void add_bridges(Sweep& sweep, const std::function<double(double)>& gain);

}  // namespace counterspot
