#include "counterspot/solve/assessment.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/files/files.hpp"
#include "demo_files.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// A tube from support to support, with its planes there.
Shaft tube_between_supports() {
  Shaft shaft = read_shaft_text(shaft_toml(), "shaft.toml");
  shaft.tube->length_m = shaft.supports->b_m - shaft.supports->a_m;
  shaft.planes[0].position_m = shaft.supports->a_m;
  shaft.planes[1].position_m = shaft.supports->b_m;
  return shaft;
}

/// Read every quarter turn, a third of the way from A to B, of a centre that lies so far off towards 90 deg.
DialStation bent_at_a_third(const Shaft& shaft, double bow_m) {
  DialStation station{(shaft.supports->b_m - shaft.supports->a_m) / 3.0, {}};
  for (const double angle_rad : {0.0, 0.5 * pi, pi, 1.5 * pi})
    station.readings.push_back({angle_rad, bow_m * std::sin(angle_rad)});
  return station;
}

}  // namespace

// 0.010 in of indicator reading along the tube, 0.254 mm: common practice, no source.
TEST_CASE("a shaft that is bent beyond the limit is not fit to spin, however slow it runs") {
  Shaft shaft = tube_between_supports();
  REQUIRE(assess_shaft(shaft).fit_to_spin());
  shaft.dial_stations = {bent_at_a_third(shaft, 0.12e-3)};
  CHECK(assess_shaft(shaft).fit_to_spin());
  shaft.dial_stations = {bent_at_a_third(shaft, 0.13e-3)};
  CHECK_FALSE(assess_shaft(shaft).fit_to_spin());
}

// A kink at a third, z = c = L/3, of an even tube (tests/shaft/straightness_test.cpp): U_A = μe(2L − c)/6, U_B =
// μe(L + c)/6, so 5 to 4.
TEST_CASE("a bow a third of the way along weighs on the near plane as 5 to 4, each beside the limit of its own plane") {
  Shaft shaft = tube_between_supports();
  shaft.grade.clear();
  shaft.limits_kg_m = {{"A", 40e-6}, {"B", 60e-6}};
  shaft.dial_stations = {bent_at_a_third(shaft, 0.1e-3)};
  const Assessment assessment = assess_shaft(shaft);
  REQUIRE(assessment.bow.size() == 2);
  const BowAtPlane& near = assessment.bow[0];
  const BowAtPlane& far = assessment.bow[1];
  CHECK(near.plane == "A");
  CHECK(far.plane == "B");
  CHECK(near.limit_kg_m == 40e-6);
  CHECK(far.limit_kg_m == 60e-6);
  CHECK(std::abs(near.unbalance_kg_m) / std::abs(far.unbalance_kg_m) == Approx(5.0 / 4.0));
  CHECK(degrees(std::arg(near.unbalance_kg_m)) == Approx(90.0));
}
