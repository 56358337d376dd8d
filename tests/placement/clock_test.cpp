#include <rapidcheck.h>

#include <catch2/catch.hpp>

#include "counterspot/placement/placement.hpp"

using namespace counterspot;

namespace {

Rig rig_seen_from_a(Rotation rotation) {
  Rig rig;
  rig.viewing_end = "A";
  rig.rotation = rotation;
  return rig;
}

std::string clock(double angle_deg, Rotation rotation) {
  return clock_position(radians(angle_deg), rotation).text();
}

}  // namespace

TEST_CASE("a shaft seen turning counter-clockwise is read clockwise with the shaft angle") {
  // Pencil: against a counter-clockwise rotation is clockwise, so 90 deg is three o'clock, 138.4 deg is 276.8 min =
  // 4:37.
  CHECK(clock(0.0, Rotation::counter_clockwise) == "12:00");
  CHECK(clock(90.0, Rotation::counter_clockwise) == "3:00");
  CHECK(clock(135.0, Rotation::counter_clockwise) == "4:30");
  CHECK(clock(138.4, Rotation::counter_clockwise) == "4:37");
  CHECK(clock(270.0, Rotation::counter_clockwise) == "9:00");
}

TEST_CASE("a shaft seen turning clockwise is read the other way round") {
  CHECK(clock(90.0, Rotation::clockwise) == "9:00");
  CHECK(clock(138.4, Rotation::clockwise) == "7:23");
}

TEST_CASE("a position that rounds to sixty minutes is the next hour, and twelve is never nought") {
  CHECK(clock(29.9, Rotation::counter_clockwise) == "1:00");
  CHECK(clock(359.9, Rotation::counter_clockwise) == "12:00");
  CHECK(clock(0.1, Rotation::clockwise) == "12:00");
  CHECK(clock(0.5, Rotation::counter_clockwise) == "12:01");
  CHECK(clock(360.0, Rotation::counter_clockwise) == "12:00");
}

TEST_CASE("from the other end the shaft turns the other way") {
  Rig rig = rig_seen_from_a(Rotation::clockwise);
  CHECK(rotation_seen_from(rig, "A") == Rotation::clockwise);
  CHECK(rotation_seen_from(rig, "B") == Rotation::counter_clockwise);
}

TEST_CASE("what is three o'clock at one end is nine o'clock at the other") {
  CHECK(rc::check([] {
    double angle = radians(*rc::gen::inRange(0, 3600) * 0.1);
    Rig rig = rig_seen_from_a(*rc::gen::element(Rotation::clockwise, Rotation::counter_clockwise));
    int here = clock_position(angle, rotation_seen_from(rig, "A")).minutes;
    int there = clock_position(angle, rotation_seen_from(rig, "B")).minutes;
    // Both readings are rounded, so at a half minute they may add to one minute more than a turn.
    RC_ASSERT((here + there) % 720 <= 1);
  }));
}

TEST_CASE("clock and shaft angle go there and back within half a minute, for both rotations") {
  CHECK(rc::check([] {
    double angle = radians(*rc::gen::inRange(0, 360000) * 0.001);
    auto rotation = *rc::gen::element(Rotation::clockwise, Rotation::counter_clockwise);
    double back = shaft_angle_of_clock(clock_position(angle, rotation), rotation);
    RC_ASSERT(std::abs(degrees(wrap_signed(back - angle))) <= 0.25 + 1e-9);  // half of 0.5 deg, and rounding
  }));
}

TEST_CASE("the tape reads the shorter way round") {
  const double diameter_m = 0.0762;
  auto quarter = arc_length(radians(90.0), diameter_m);
  CHECK(quarter.length_m == Approx(pi * diameter_m / 4));
  CHECK(quarter.direction == ArcDirection::against_rotation);
  auto three_quarters = arc_length(radians(270.0), diameter_m);
  CHECK(three_quarters.length_m == Approx(pi * diameter_m / 4));
  CHECK(three_quarters.direction == ArcDirection::with_rotation);
  CHECK(arc_length(0.0, diameter_m).direction == ArcDirection::against_rotation);
  CHECK(arc_length(pi, diameter_m).direction == ArcDirection::against_rotation);
  CHECK(arc_length(pi, diameter_m).length_m == Approx(pi * diameter_m / 2));
}

TEST_CASE("arc and shaft angle go there and back") {
  CHECK(rc::check([] {
    double angle = radians(*rc::gen::inRange(0, 360000) * 0.001);
    double diameter_m = *rc::gen::inRange(20, 300) * 1e-3;
    auto arc = arc_length(angle, diameter_m);
    RC_ASSERT(arc.length_m <= pi * diameter_m / 2 * (1 + 1e-12));
    RC_ASSERT(std::abs(wrap_signed(shaft_angle_of_arc(arc, diameter_m) - angle)) < 1e-12);
  }));
}
