// Where a plane may still carry something, and how much of it.
#include <algorithm>
#include <catch2/catch.hpp>

#include "counterspot/placement/fitting.hpp"

using namespace counterspot;

namespace {

Shaft shaft_of(double at_most_kg) {
  Shaft shaft;
  shaft.planes = {{"A", 0.1, 0.04}, {"B", 1.4, 0.04}};
  shaft.planes[0].at_most_kg = at_most_kg;
  return shaft;
}

Stock stock_with(const PlaneRules& rules) {
  Stock stock;
  stock.rules["A"] = rules;
  return stock;
}

bool has(const PlaneSites& sites, double angle_deg) {
  return std::any_of(sites.positions_rad.begin(), sites.positions_rad.end(),
                     [&](double angle) { return std::abs(wrap_signed(angle - radians(angle_deg))) < 1e-9; });
}

}  // namespace

TEST_CASE("a plane has room for what it may carry less what is on it; metal taken off makes none") {
  const Shaft shaft = shaft_of(0.030);
  const std::vector<FittedWeight> on = {{0, 0.012, 0.04, 0.0}, {1, 0.5, 0.04, 0.0}, {0, -0.004, 0.04, 1.0}};
  CHECK(room_kg(shaft.planes[0], 0, on) == Approx(0.018));
  CHECK(room_kg(shaft.planes[0], 0, {{0, 0.031, 0.04, 0.0}}) == 0.0);
  CHECK(std::isinf(room_kg(shaft.planes[1], 1, on)));
  CHECK(sites_of(shaft, {}, on).front().room_kg == Approx(0.018));
}

TEST_CASE("no place is open within a forbidden arc, its ends among it, or nearer than the gap to a piece that is on") {
  PlaneRules rules;
  rules.forbidden = {{radians(350.0), radians(10.0), "seam"}};
  rules.smallest_gap_m = 0.04 * radians(20.0);  // 20 deg at the plane's radius
  rules.most_pieces = 3;
  rules.most_mass_kg = 0.050;
  const Shaft shaft = shaft_of(1.0);
  const PlaneSites sites = sites_of(shaft, stock_with(rules), {{0, 0.015, 0.04, radians(90.0)}}).front();
  for (const double shut : {350.0, 0.0, 10.0, 71.0, 90.0, 109.0}) {
    CAPTURE(shut);
    CHECK_FALSE(has(sites, shut));
  }
  for (const double open : {11.0, 70.0, 110.0, 349.0}) {
    CAPTURE(open);
    CHECK(has(sites, open));
  }
  CHECK(sites.most_pieces == 2);
  CHECK(sites.most_mass_kg == Approx(0.035));
  rules.closed = true;
  CHECK(sites_of(shaft, stock_with(rules), {}).front().most_pieces == 0);
}

// One vector of 20 g at 40 mm and 0 deg; pieces of 6 g and 9 g anywhere, two at most. Alone 9 + 9 g would do most of
// it.
TEST_CASE("the pieces chosen for a plane act with no more than it has room for") {
  FittingProblem problem;
  problem.pieces = {{0, Way::weld, 0.006, 0.006}, {0, Way::weld, 0.009, 0.009}};
  problem.counts = {std::nullopt};
  PlaneSites sites{"A", 0.04, {0.0, 0.2, 3.0}, 0.0, 2};
  problem.aim = {{{"A"}, Phasor(-0.020 * 0.04, 0.0), {1.0}, 1e-4}};
  for (const auto& [room_kg, acting_kg] : {std::pair(1.0, 0.018), std::pair(0.016, 0.015), std::pair(0.010, 0.009)}) {
    CAPTURE(room_kg);
    sites.room_kg = room_kg;
    problem.planes = {sites};
    double acting = 0.0;
    for (const Placed& placed : choose_pieces(problem).placed) acting += placed.piece.acting_kg;
    CHECK(acting == Approx(acting_kg));
  }
}

// On a tube of 76.2 mm the steps of 1 deg are 0.7 mm apart; a washer is 24 mm wide.
TEST_CASE("pieces whose length round the tube nobody stated keep 30 mm between their centre lines") {
  Shaft shaft = shaft_of(1.0);
  shaft.tube = Tube{0.0762, 0.0021, 1.42, "steel"};
  PlaneRules rules;
  CHECK(sites_of(shaft, stock_with(rules), {}).front().smallest_gap_rad * 38.1 == Approx(30.0));
  const PlaneSites beside = sites_of(shaft, stock_with(rules), {{0, 0.015, 0.04, radians(90.0)}}).front();
  CHECK_FALSE(has(beside, 91.0));
  CHECK_FALSE(has(beside, 134.0));  // 44 deg: 29.3 mm
  CHECK(has(beside, 136.0));        // 46 deg: 30.6 mm
  rules.smallest_gap_m = 0.014;
  CHECK(sites_of(shaft, stock_with(rules), {}).front().smallest_gap_rad * 38.1 == Approx(14.0));
  rules.smallest_gap_m = 0.0;
  rules.positions_rad = {0.0, radians(20.0)};  // holes are there for a piece each
  CHECK(sites_of(shaft, stock_with(rules), {}).front().smallest_gap_rad == 0.0);
}
