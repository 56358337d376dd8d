#pragma once

#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"

namespace counterspot {

/// What a command line says of a recording, as it was typed. It goes before what the rig file says.
struct StatedRecording {
  std::string sample_rate;            ///< "51.2 kHz"; empty: not stated
  std::vector<std::string> channels;  ///< "A=2,B=3,tach=1"; a channel is a number from 1 or a column's name
};

/// @throws Error(request, "bad_quantity", "bad_sample_rate").
double sample_rate_of(const std::string& text);

/// The rig with these channels and this rate, which then holds of every recording.
/// @throws Error(request, …) as sample_rate_of; "bad_channels" (an item that is empty, or no NAME=CHANNEL),
/// "no_such_sensor", "channel_twice" (a sensor is named twice, or two of the rig's are on one channel afterwards).
Rig with_stated(Rig rig, const StatedRecording& stated);

}  // namespace counterspot
