#pragma once

#include <string>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// A line of a rig file.
struct RigLine {
  std::string line;                   ///< `channel = "DE_time"`, as it is written there
  std::vector<std::string> sections;  ///< of these one: "sensor", "tach", "rig"
  std::string remark = {};            ///< what else is to be known before it is chosen
};

/// What there is to choose from for a rig file that does not say which channel is which yet: a line for each channel
/// but the times, and the rate where the recording has none. Empty where one channel is all there is and its rate is
/// known.
///
/// A name stands without what all begin with, up to a blank or one of / . _, if that has a digit in it: "DE_time" for
/// "X097_DE_time", for the next recording begins with another number.
std::vector<RigLine> rig_lines_to_choose(const RecordingInfo& info);

}  // namespace counterspot
