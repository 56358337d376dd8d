#include "counterspot/units/angle.hpp"

#include <rapidcheck.h>

#include <catch2/catch.hpp>
#include <cmath>

using namespace counterspot;

TEST_CASE("an angle wraps into one turn, and its end points are exact") {
  CHECK(wrap_positive(0.0) == 0.0);
  CHECK_FALSE(std::signbit(wrap_positive(-0.0)));
  CHECK(wrap_positive(turn_rad) == 0.0);
  CHECK(wrap_positive(-turn_rad) == 0.0);
  CHECK(wrap_positive(-1e-20) == 0.0);  // rounds to a whole turn, which is none
  CHECK(wrap_positive(-pi / 2) == Approx(1.5 * pi));
  CHECK(wrap_signed(pi) == pi);
  CHECK(wrap_signed(-pi) == pi);
  CHECK(wrap_signed(1.5 * pi) == Approx(-0.5 * pi));
}

TEST_CASE("a direction is never 360 deg and a zero vector points nowhere") {
  CHECK(direction_deg(Phasor(1.0, 0.0)) == 0.0);
  CHECK(direction_deg(Phasor(1.0, -0.0)) == 0.0);
  CHECK(direction_deg(Phasor(1.0, -1e-30)) == 0.0);
  CHECK(direction_deg(Phasor(0.0, 0.0)) == 0.0);
  CHECK(direction_deg(Phasor(0.0, 1.0)) == Approx(90.0));
  CHECK(direction_deg(Phasor(-1.0, 0.0)) == Approx(180.0));
  CHECK(direction_deg(Phasor(0.0, -1.0)) == Approx(270.0));
}

TEST_CASE("a whole turn more is the same direction") {
  CHECK(rc::check([] {
    double angle = *rc::gen::inRange(-1000000, 1000000) * 1e-4;
    int turns = *rc::gen::inRange(-20, 20);
    double difference = wrap_signed(wrap_positive(angle + turns * turn_rad) - wrap_positive(angle));
    RC_ASSERT(std::abs(difference) < 1e-11);  // rounding of 20 turns and of 100 rad
    RC_ASSERT(wrap_positive(angle) >= 0.0);
    RC_ASSERT(wrap_positive(angle) < turn_rad);
  }));
}
