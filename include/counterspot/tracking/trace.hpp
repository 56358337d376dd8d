#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// One channel as it was recorded.
struct TraceChannel {
  std::string name;  ///< the sensor's, or "tach", or the recording's own
  std::string unit;  ///< of the samples: "m/s2", "mm/s", "um", "V", or as written; "of full scale" without a rig
  std::vector<double> samples;
  bool tach = false;
};

/// The beginning of a recording, sample by sample, to be looked at.
struct Trace {
  std::string file;
  double sample_rate_Hz = 1.0;
  double begin_s = 0.0;  ///< of the first sample, from the start of the recording
  std::vector<TraceChannel> channels;
  std::vector<double> edges_s;  ///< tach edges that begin a turn, from the start of the recording
};

/// The first turns that the tach shows, whole, of sensors and tach. At most two million samples.
/// @throws what track() throws of a tach or a channel that cannot be used.
Trace trace_of_turns(Recording& recording, const Rig& rig, int turns = 4);

/// The first stretch of all channels as they are in the file.
Trace trace_of_start(Recording& recording, double duration_s = 0.25);

}  // namespace counterspot
