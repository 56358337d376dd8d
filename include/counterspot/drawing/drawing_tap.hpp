#pragma once

#include <optional>

#include "counterspot/placement/placement.hpp"

namespace counterspot {

/// Where on the clock a face as `clock_picture` draws it was touched, parts of its width and height from its upper left
/// corner; empty too near its middle to tell, and off the face.
std::optional<ClockPosition> clock_touched(double of_width, double of_height);

}  // namespace counterspot
