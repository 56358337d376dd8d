// The faces that are shown while the shaft turns: their scale, and where a vector is drawn on them.
#include "counterspot/drawing/drawing_live.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/units/angle.hpp"

using namespace counterspot;

TEST_CASE("the scale of the live faces is one for both, holds the limit, and does not go to and fro") {
  std::vector<LiveFace> faces(2);
  for (LiveFace& face : faces) face.limit_kg_m = 340e-6;
  set_rim(faces, {{Phasor(1400e-6)}, {Phasor(200e-6)}});
  CHECK(faces[0].rim == faces[1].rim);
  CHECK(faces[0].rim == Approx(2000e-6));
  const double before = faces[0].rim;
  set_rim(faces, {{Phasor(700e-6)}, {Phasor(100e-6)}});
  CHECK(faces[0].rim == before);
  set_rim(faces, {{Phasor(20e-6)}, {Phasor(30e-6)}});
  CHECK(faces[0].rim == Approx(500e-6));  // the limit at 340 g·mm is still within
  set_rim(faces, {{Phasor(501e-6)}, {Phasor(30e-6)}});
  CHECK(faces[0].rim == Approx(700e-6));
}

TEST_CASE("a vector that is short beside the limit is shown once more in a lens, which does not come and go") {
  const auto at = [](double size_kg_m, double u_kg_m) {
    return LiveVector{std::polar(size_kg_m, radians(90.0)), Eigen::Matrix2d::Identity() * u_kg_m * u_kg_m};
  };
  std::vector<LiveFace> faces(2);
  for (LiveFace& face : faces) face.limit_kg_m = 340e-6;
  const auto lens = [&](double size_kg_m) {
    set_rim(faces, {at(size_kg_m, 1e-6), at(400e-6, 1e-6)});
    CHECK(faces[0].rim == Approx(500e-6));
    CHECK_FALSE(faces[1].lens);
    return faces[0].lens;
  };
  CHECK_FALSE(lens(90e-6));
  CHECK_FALSE(lens(45e-6));
  for (const double scattered_kg_m : {38e-6, 2e-6, 55e-6, 95e-6}) CHECK(lens(scattered_kg_m));
  CHECK_FALSE(lens(105e-6));
  CHECK_FALSE(lens(60e-6));
  lens(30e-6);
  const LiveMark mark = live_mark(faces[0], at(30e-6, 1e-6));
  REQUIRE(mark.in_lens);
  CHECK(clock_deg_of(lens_middle, *mark.in_lens) == Approx(clock_deg_of(live_middle, mark.tip)));
  const auto length_mm = [](const Point& from, const Point& to) { return std::hypot(to.x - from.x, to.y - from.y); };
  CHECK(length_mm(lens_middle, *mark.in_lens) > 2.5 * length_mm(live_middle, mark.tip));
  const double ring_mm = length_mm(lens_middle, *live_mark(faces[0], at(90e-6, 1e-6)).in_lens);
  CHECK(ring_mm == Approx(length_mm(lens_middle, *live_mark(faces[0], at(60e-6, 1e-6)).in_lens)));
  const std::vector<Point> cut_off = live_mark(faces[0], at(30e-6, 200e-6)).lens_ellipse;
  REQUIRE_FALSE(cut_off.empty());
  for (const Point& edge : cut_off) CHECK(length_mm(lens_middle, edge) < 1.0001 * ring_mm);
  CHECK_FALSE(live_mark(faces[1], at(400e-6, 1e-6)).in_lens);
}

TEST_CASE("a live vector is drawn where its unbalance sits on the clock, and on the rim if it is too large") {
  LiveFace face;
  face.rotation = Rotation::counter_clockwise;
  face.rim = 100e-6;
  const LiveMark at_three = live_mark(face, {std::polar(50e-6, radians(90.0)), Eigen::Matrix2d::Zero()});
  CHECK(clock_deg_of(live_middle, at_three.tip) == Approx(90.0));
  CHECK(at_three.ellipse.empty());
  face.rotation = Rotation::clockwise;
  const LiveMark at_nine = live_mark(face, {std::polar(50e-6, radians(90.0)), Eigen::Matrix2d::Identity() * 1e-12});
  CHECK(clock_deg_of(live_middle, at_nine.tip) == Approx(270.0));
  CHECK(at_nine.ellipse.size() > 30);
  const LiveMark far = live_mark(face, {Phasor(1.0), Eigen::Matrix2d::Identity()});
  CHECK(far.beyond);
  CHECK(far.ellipse.empty());
}
