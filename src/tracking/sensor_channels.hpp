#pragma once

#include <string>
#include <vector>

#include "counterspot/recording.hpp"
#include "counterspot/rig.hpp"
#include "counterspot/units.hpp"

namespace counterspot {

/// Where the rig's sensors are in a recording; one entry per sensor, in the rig's order.
struct SensorChannels {
  std::vector<std::string> names;
  std::vector<Motion> motions;
  std::vector<std::size_t> channels;  ///< 0-based
  std::vector<double> scales;         ///< SI units per sample
};

/// @throws Error(request, "no_such_channel", "wrong_unit").
SensorChannels sensor_channels(const RecordingInfo& info, const Rig& rig);

}  // namespace counterspot
