// What a touch on a face says, and what a spin left over its limit.
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/drawing/drawing_course.hpp"
#include "counterspot/drawing/drawing_tap.hpp"
#include "counterspot/units/coverage.hpp"
#include "examples.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("a touch on the drawn weight reads the clock that the weight is at") {
  for (const Rotation rotation : {Rotation::clockwise, Rotation::counter_clockwise}) {
    for (const double angle_rad : {0.1, 1.7, 3.3, 5.9}) {
      ClockFace face;
      face.plane = "A";
      face.rotation = rotation;
      face.pieces.push_back({PieceState::to_fit, 0.01, angle_rad});
      const Picture picture = clock_picture(face);
      const Point at = middle_of(shapes_meaning(picture, "to fit").at(0));
      const auto touched = clock_touched(at.x / picture.width_mm, at.y / picture.height_mm);
      REQUIRE(touched);
      const int apart = std::abs(touched->minutes - clock_position(angle_rad, rotation).minutes);
      CHECK(std::min(apart, 720 - apart) <= 4);  // 2 deg
    }
  }
}

TEST_CASE("a touch near the middle of a face, or off it, says nothing") {
  CHECK_FALSE(clock_touched(0.5, 0.52));
  CHECK_FALSE(clock_touched(0.02, 0.02));
  CHECK_FALSE(clock_touched(std::nan(""), 0.5));
}

TEST_CASE("what a spin left over its limit has the uncertainty along its own direction") {
  SpinVector spin{"", Phasor(3e-6, 4e-6), Eigen::Matrix2d::Zero()};
  spin.covariance(0, 0) = 1e-12;  // along (0.6, 0.8): 0.36e-12
  const OverLimit over = over_limit(spin, 10e-6);
  CHECK(over.percent == Approx(50.0));
  CHECK(over.expanded_percent == Approx(coverage_factor * 6.0));
}
