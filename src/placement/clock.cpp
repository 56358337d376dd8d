#include <fmt/format.h>

#include <cassert>
#include <cmath>

#include "counterspot/placement/placement.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

namespace {

constexpr int minutes_per_turn = 12 * 60;

/// Clockwise angle on the clock face, given the shaft angle, and back: the map is its own inverse. The shaft angle runs
/// against the rotation, so it runs clockwise where the shaft is seen to turn counter-clockwise.
double mirrored(double angle_rad, Rotation rotation) {
  return wrap_positive(rotation == Rotation::counter_clockwise ? angle_rad : -angle_rad);
}

}  // namespace

std::string_view arc_direction_name(ArcDirection direction) {
  return direction == ArcDirection::against_rotation ? "against rotation" : "with rotation";
}

std::string ClockPosition::text() const {
  assert(minutes >= 0 && minutes < minutes_per_turn);
  int hours = minutes / 60;
  return fmt::format("{}:{:02}", hours == 0 ? 12 : hours, minutes % 60);
}

ClockPosition clock_position(double shaft_angle_rad, Rotation rotation) {
  double clockwise_turns = mirrored(shaft_angle_rad, rotation) / turn_rad;
  return {static_cast<int>(std::lround(clockwise_turns * minutes_per_turn)) % minutes_per_turn};
}

double shaft_angle_of_clock(ClockPosition clock, Rotation rotation) {
  return mirrored(clock.minutes * (turn_rad / minutes_per_turn), rotation);
}

Rotation rotation_seen_from(const Rig& rig, std::string_view end) {
  return end == rig.viewing_end ? rig.rotation : seen_from_other_end(rig.rotation);
}

ArcLength arc_length(double shaft_angle_rad, double outside_diameter_m) {
  double angle = wrap_signed(shaft_angle_rad);
  return {std::abs(angle) * outside_diameter_m / 2.0,
          angle < 0.0 ? ArcDirection::with_rotation : ArcDirection::against_rotation};
}

double shaft_angle_of_arc(const ArcLength& arc, double outside_diameter_m) {
  double angle = arc.length_m / (outside_diameter_m / 2.0);
  return wrap_positive(arc.direction == ArcDirection::with_rotation ? -angle : angle);
}

}  // namespace counterspot
