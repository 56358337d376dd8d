#pragma once

#include <vector>

#include "counterspot/tracking/tracking.hpp"

namespace counterspot {

/// What a sensor shows beside the orders of the shaft, by which it is known again from spin to spin.
struct SensorLevel {
  std::vector<NoiseBand> bands;  ///< as in SensorTrack; empty: not known
  double step = 0.0;             ///< SI: the converter's step; 0: not known
};

}  // namespace counterspot
