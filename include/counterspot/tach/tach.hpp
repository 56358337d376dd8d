#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// One stretch of the shaft-angle clock θ(t): from one tach edge to the next, θ linear in time. Positions are in frames
/// from the start of the recording, fractional; angles in rad, θ = 0 (mod 2π) at the edge of the identified pulse.
struct Turn {
  double begin_frame = 0.0;
  double end_frame = 0.0;
  double begin_angle_rad = 0.0;  ///< 2π·whole for one pulse a turn
  double end_angle_rad = 0.0;
};

/// A stretch of a recording without pulses, while the sensors went on vibrating.
struct TachGap {
  double begin_s = 0.0;
  double end_s = 0.0;
};

/// What was seen of the tach, for the person and for the uncertainty.
struct TachReport {
  std::int64_t pulses = 0;       ///< edges used
  std::int64_t lost = 0;         ///< pulses that were missing and were bridged
  std::int64_t doubled = 0;      ///< extra edges that were dropped
  double low = 0.0, high = 0.0;  ///< the two states, in units of the tach channel
  double level = 0.0;            ///< where the edge is timed
  double hysteresis = 0.0;       ///< full width
  double noise = 0.0;            ///< standard deviation of the signal within the states, same unit
  double timing_uncertainty_s =
      0.0;  ///< standard uncertainty of one edge, from the scatter of third differences of edge times
  double longest_bridge_turns = 0.0;  ///< most turns in a row without a pulse that were bridged
  std::vector<TachGap> gaps = {};     ///< longer than can be bridged; of more than 16 the first 16
  double low_moved = 0.0;             ///< how far the low state moved from turn to turn, same unit as `low`
  double high_moved = 0.0;            ///< and the high one; 0 where too few samples fall on it to say
};

}  // namespace counterspot
