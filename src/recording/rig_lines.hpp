#pragma once

#include <string>

#include "counterspot/recording/rig_lines.hpp"

namespace counterspot {

/// `channel = "accel"`: the line for a channel that holds no times, as an example.
std::string some_channel_line(const RecordingInfo& info);

}  // namespace counterspot
