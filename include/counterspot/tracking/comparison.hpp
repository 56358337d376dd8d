#pragma once

#include <string>
#include <vector>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// What the sensors should have read, one vector a sensor, SI: an earlier spin with the same weights on the shaft, or
/// coefficients times the weights.
struct Expected {
  std::string from;             ///< "spin 'as found'", to be read in a sentence
  std::vector<Phasor> vectors;  ///< at the speed of the reading
  std::vector<double> least;    ///< vectors smaller than this are too small to judge by
};

/// Compares what was read with what was expected and names the faults of the rig that explain the difference:
///  - swapped_sensors: each of two sensors reads within 30 % (of the larger) what the other should, and not what it
///  should;
///  - inverted_polarity: a sensor reads within 30 % the opposite of what it should, and not all of them do (a mark that
///  was moved to the other side turns all of them);
///  - wrong_sensitivity: a sensor reads 6 to 16 times too much or too little, at the right phase within 20 deg.
/// The limits are common practice, no source: wide enough for what a changed shaft, a badly set weight or another speed
/// do, and far from what is normal. Nothing is said of a sensor that reads as expected within 30 %.
Warnings compare_readings(const std::vector<std::string>& sensors, const std::vector<Phasor>& read,
                          const Expected& expected);

/// The same for two spins with the same weights on the shaft, order 1 of each; the earlier one is brought to the speed
/// of the later by its slope.
/// @throws Error(request, "not_alike") if they differ in sensors or motion, in speed by more than 2 %, or lack order 1.
Warnings compare_tracks(const Track& later, const Track& earlier);

}  // namespace counterspot
