// The faces that are shown while the shaft turns: their scale, and where a vector is drawn on them.
#include "counterspot/drawing/drawing_live.hpp"

#include <catch2/catch.hpp>

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
