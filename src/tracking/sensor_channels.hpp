#pragma once

#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// Where the rig's sensors are in a recording; one entry per sensor, in the rig's order.
struct SensorChannels {
  std::vector<std::string> names;
  std::vector<Motion> motions;
  std::vector<std::size_t> channels;  ///< 0-based
  std::vector<double> scales;         ///< SI units per sample
};

/// @throws Error(request, "no_such_channel", "wrong_unit", "other_sample_rate").
SensorChannels sensor_channels(const RecordingInfo& info, const Rig& rig);

}  // namespace counterspot
