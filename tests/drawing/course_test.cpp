// What a touch on a face says, and what a spin left over its limit.
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/drawing/drawing_course.hpp"
#include "counterspot/drawing/drawing_live.hpp"
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

namespace {

PictureOf all_known() {
  PictureOf of;
  of.shaft = "PS-1042";
  of.job = "PS-1042/3";
  of.as_of = "2026-11-29";
  of.rig = "bay 2";
  of.speed_rad_s = rad_per_s(1622.0);
  of.verdict = Verdict::outside;
  of.units = UnitSystem::inch;
  of.program = "counterspot 0.1.0";
  return of;
}

}  // namespace

TEST_CASE("a face that was saved by itself says all that is known of it, and a touch on it reads the same") {
  const Picture face = clock_picture(example_face(), german());
  const Picture touched = face_to_touch(example_face(), all_known(), german());
  CHECK(touched.width_mm == face.width_mm);
  CHECK(touched.height_mm == face.height_mm);
  CHECK(middle_of(shapes_meaning(touched, "to fit").at(0)) == middle_of(shapes_meaning(face, "to fit").at(0)));
  std::string said;
  for (const Lettering& text : words_meaning(touched, "title")) said += text.words + ", ";
  CHECK(said ==
        "Welle PS-1042, Auftrag PS-1042/3, Stand 2026-11-29, Auswuchtbank bay 2, 1622 min⁻¹, Bewertung: außerhalb, "
        "Zoll-Einheiten, counterspot 0.1.0, ");
  CHECK(touched.description.find("Auftrag PS-1042/3") != std::string::npos);
}

TEST_CASE("a live face says whose shaft it is") {
  LiveFace face;
  face.shaft = "PS-1042";
  face.name = "A";
  face.rim = 1e-3;
  CHECK(words_meaning(live_face_picture(face), "shaft").at(0).words == "shaft PS-1042");
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
