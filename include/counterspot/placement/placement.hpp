#pragma once

#include <string>
#include <string_view>

#include "counterspot/model/rig.hpp"

namespace counterspot {

enum class ArcDirection { against_rotation, with_rotation };
std::string_view arc_direction_name(ArcDirection direction);

/// A time on the clock face, the mark at 12:00: total minutes 0 to 719, where 720 minutes are a turn (one minute = 0.5
/// deg).
struct ClockPosition {
  int minutes = 0;
  std::string text() const;  ///< "4:37"; 12:00, never 0:00
};

/// Shaft angle to clock position. @param rotation as seen by the observer who reads the clock.
ClockPosition clock_position(double shaft_angle_rad, Rotation rotation);
double shaft_angle_of_clock(ClockPosition clock, Rotation rotation);  ///< [0, 2π)

/// The direction of rotation as seen from `end`, given the rig (which states it from its viewing end).
Rotation rotation_seen_from(const Rig& rig, std::string_view end);

/// What a tape measure reads on the tube from the mark, the shorter way; at 0 and at half the girth "against rotation".
struct ArcLength {
  double length_m = 0.0;  ///< 0 to half the girth
  ArcDirection direction = ArcDirection::against_rotation;
};
ArcLength arc_length(double shaft_angle_rad, double outside_diameter_m);
double shaft_angle_of_arc(const ArcLength& arc, double outside_diameter_m);  ///< [0, 2π)

}  // namespace counterspot
