#pragma once

#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// What one sample of the speed's channel means, in rad/s.
/// @throws Error(request, …) "no_such_channel", "wrong_unit" (of no speed and no voltage), "missing_key" (volts or bare
/// numbers, and no scale is stated).
double speed_signal_scale(const RecordingInfo& info, const TachSetup& tach);

/// How far the shaft has turned at each sample, in turns, by the trapezoidal rule, from speeds in rad/s of either sign.
/// @throws Error(recording, "impossible_speed") if their mean is not between 10 and 60 000 rpm.
std::vector<double> turns_by_speed(const std::vector<double>& speeds_rad_s, double rate_Hz, const std::string& file);

/// A line of the spectrum by turns.
struct OrderLine {
  double order = 1.0;  ///< of the line that stands out, within 10 % of 1
  bool stands_out = false;
};

/// The line of all sensors near order 1 of the signal: one within 1.5 % of it if any stands out there (tenfold in
/// amplitude over what lies about it), else the highest within 10 %. Only the first 250 turns are looked at.
/// @param values of each sensor, each at the turns given.
OrderLine line_near_order_1(const std::vector<const std::vector<double>*>& values, const std::vector<double>& turns);

/// As far from 1 as a speed signal that is right may put order 1.
inline constexpr double signal_tolerance = 0.015;

}  // namespace counterspot
