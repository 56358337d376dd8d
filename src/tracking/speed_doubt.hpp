#pragma once

#include <optional>
#include <vector>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/channel_watch.hpp"

namespace counterspot {

/// A speed that no drive shaft turns at on a rig: under 10 rpm or over 60 000 rpm (common practice, no source). Times
/// in ms that are read as s show the one, the teeth of a wheel that are counted as turns the other.
std::optional<Error> impossible_speed(const Track& track);

/// Doubts the speed if it is beyond what drive shafts are turned at (15 000 rpm; common practice, no source), or if the
/// sensors speak for one nth of it: in every sensor a line at just that share of the tach's frequency, at least twice
/// as high as what turns with the tach.
void report_doubted_speed(Track& track, const std::vector<ChannelWatch>& sensors);

}  // namespace counterspot
