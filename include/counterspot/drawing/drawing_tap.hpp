#pragma once

#include <optional>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/drawing/titled.hpp"
#include "counterspot/placement/placement.hpp"

namespace counterspot {

/// The face as `clock_picture` draws it, with what it is of: within the face, small, so that a touch reads the same
/// and the face is as large on the screen, where the page says it too. So it is said by a face that was saved or
/// printed by itself.
Picture face_to_touch(const ClockFace& face, const PictureOf& of, const Words& words = english());

/// Where on the clock a face as `clock_picture` draws it was touched, parts of its width and height from its upper left
/// corner; empty too near its middle to tell, and off the face.
std::optional<ClockPosition> clock_touched(double of_width, double of_height);

}  // namespace counterspot
