#pragma once

#include <vector>

namespace counterspot {

/// What a channel shows between the few events of a recording.
struct Quiet {
  double level = 0.0;    ///< median
  double noise = 0.0;    ///< standard deviation about it, from the median of what samples are off
  double largest = 0.0;  ///< what any sample is off at most
};
/// @param samples at least one.
Quiet quiet_of(const std::vector<double>& samples);

}  // namespace counterspot
