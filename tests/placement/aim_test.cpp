#include <catch2/catch.hpp>

#include "counterspot/placement/fitting.hpp"

using namespace counterspot;

// Pencil: 0.3 m outside support A of a span of 1.5 m, a weight rests with 1.8/1.5 = 1.2 of itself on A and lifts B with
// 0.2 of itself. 100 g·mm at A and −30 at B are then met by w: 100 + 1.2·w and −30 − 0.2·w.
TEST_CASE("a weight outside the supports loads the near one with more than itself and lifts the far one") {
  Shaft shaft;
  shaft.supports = Supports{0.0, 1.5, std::nullopt};
  shaft.planes = {{"A", -0.3, 0.04}};
  Aim aim = aim_at_unbalance(shaft, {0.0}, {}, {{Support::a, 50e-6}, {Support::b, 20e-6}});
  REQUIRE(aim.size() == 2);
  CHECK(aim[0].place == at_support(Support::a));
  CHECK(aim[0].effect[0].real() == Approx(1.2));
  CHECK(aim[1].effect[0].real() == Approx(-0.2));
  aim[0].present = 100e-6;
  aim[1].present = -30e-6;
  CHECK(worst_ratio(aim, {0.0}) == Approx(2.0));
  CHECK(worst_ratio(aim, {-100e-6}) == Approx(0.5));          // -20 of 50 at A, -10 of 20 at B
  CHECK(worst_ratio(aim, {-150e-6}) == Approx(80.0 / 50.0));  // -80 at A, nothing at B
}
