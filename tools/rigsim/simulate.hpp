#pragma once

#include <string>
#include <vector>

#include "rigsim/truth.hpp"

namespace rigsim {

struct RecordedChannel {
  std::string name;
  std::vector<double> volts;
};

/// What the recorder took: every sensor, then the tach.
struct Recorded {
  double sample_rate_Hz = 0.0;
  double full_scale_V = 0.0;
  int bits = 0;
  std::vector<RecordedChannel> channels;
};

/// One spin, from the physics to the recorder's numbers: movement → sensor (noise, hum) → converter. The same truth and
/// seed give the same numbers, up to the last bits of the machine's sine and exponential.
Recorded simulate(const RigTruth& rig, const ShaftTruth& shaft, const SpinTruth& spin);

}  // namespace rigsim
