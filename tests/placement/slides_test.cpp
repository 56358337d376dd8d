#include "counterspot/placement/slides.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/units/error.hpp"

using namespace counterspot;

namespace {

Shaft shaft_of_two_planes() {
  Shaft shaft;
  shaft.tube = Tube{0.0762, 0.0021, 1.42, "steel"};
  shaft.planes = {{"A", 0.07, 0.04}, {"B", 1.43, 0.04}};
  return shaft;
}

Stock washers() {
  Stock stock;
  StockKind washer;
  washer.name = "washer";
  washer.masses_kg = {5e-3, 10e-3, 20e-3};
  StockKind clamp;
  clamp.name = "clamp";
  clamp.way = Way::clamp;
  clamp.masses_kg = {8e-3};
  stock.kinds = {washer, clamp};
  stock.rules["A"].most_pieces = 3;
  stock.rules["B"].most_pieces = 3;
  return stock;
}

FittedWeight weight(int plane, double mass_g, double angle_deg) {
  return {plane, mass_g * 1e-3, 0.04, radians(angle_deg)};
}

/// The residual if `really` is the unbalance without weights and `on_shaft` is fitted.
Aim aim_of(const Shaft& shaft, std::vector<Phasor> really, const std::vector<FittedWeight>& on_shaft) {
  for (const FittedWeight& w : on_shaft) really[static_cast<std::size_t>(w.plane)] += w.unbalance_kg_m();
  return aim_at_unbalance(shaft, really, {{"A", 0.1e-3}, {"B", 0.1e-3}}, {});
}

const Plan* plan_of(const std::vector<Plan>& plans, Effort effort) {
  for (const Plan& plan : plans)
    if (plan.effort == effort) return &plan;
  return nullptr;
}

}  // namespace

TEST_CASE("one piece in the wrong place is slid to the right one") {
  const Shaft shaft = shaft_of_two_planes();
  const std::vector<FittedWeight> on_shaft = {weight(0, 20, 50), weight(1, 10, 200)};
  // A wants its 20 g at 90 deg, B is right.
  const Aim aim = aim_of(shaft, {-weight(0, 20, 90).unbalance_kg_m(), -weight(1, 10, 200).unbalance_kg_m()}, on_shaft);
  const auto plans = plans_from_here(shaft, washers(), aim, on_shaft);
  REQUIRE(!plans.empty());
  CHECK(plans.front().effort == Effort::slide_one);
  REQUIRE(plans.front().slides.size() == 1);
  CHECK(plans.front().slides[0].fitted == 0);
  CHECK(degrees(plans.front().slides[0].to_rad) == Approx(90.0));
  CHECK(plans.front().worst_ratio < 1e-9);
}

TEST_CASE("two equal pieces make any smaller vector by sliding apart, as in the textbook") {
  const Shaft shaft = shaft_of_two_planes();
  const std::vector<FittedWeight> on_shaft = {weight(0, 20, 10), weight(0, 20, 60)};
  // Any balancing text: two equal weights w at ±δ about β make 2·w·cos δ. For 20 g out of 2·20 g, δ = 60 deg about 150.
  const Aim aim = aim_of(shaft, {-weight(0, 20, 150).unbalance_kg_m(), 0.0}, on_shaft);
  const auto plans = plans_from_here(shaft, washers(), aim, on_shaft);
  const Plan* two = plan_of(plans, Effort::slide_two);
  REQUIRE(two != nullptr);
  CHECK(two->worst_ratio < 1e-9);
  double low = degrees(two->slides[0].to_rad);
  double high = degrees(two->slides[1].to_rad);
  if (low > high) std::swap(low, high);
  CHECK(low == Approx(90.0));
  CHECK(high == Approx(210.0));
}

// 5 g at 40 mm, δ beside its place, leave 0.2 kg·mm·δ: 0.035 of the limit at 1 deg, 0.07 at 2 deg.
TEST_CASE("nobody is sent to the shaft for less than a twentieth of the limit") {
  const Shaft shaft = shaft_of_two_planes();
  for (const auto& [beside_deg, worth_it] : {std::pair(1.0, false), std::pair(2.0, true)}) {
    CAPTURE(beside_deg);
    const std::vector<FittedWeight> on_shaft = {weight(0, 5, 90.0 + beside_deg)};
    const Aim aim = aim_of(shaft, {-weight(0, 5, 90).unbalance_kg_m(), 0.0}, on_shaft);
    const auto plans = plans_from_here(shaft, washers(), aim, on_shaft);
    CHECK((plan_of(plans, Effort::slide_one) != nullptr) == worth_it);
    CHECK(plans.empty() == !worth_it);
  }
}

TEST_CASE("each plan is what a look at every possibility gives, and every predicted row is true") {
  const Shaft shaft = shaft_of_two_planes();
  Stock stock = washers();
  stock.rules["A"].forbidden = {{radians(80.0), radians(120.0), "seam"}};
  stock.rules["A"].smallest_gap_m = 0.012;
  const std::vector<FittedWeight> on_shaft = {weight(0, 20, 10), weight(0, 5, 60), weight(1, 10, 200)};
  const Aim aim = aim_of(shaft, {-weight(0, 18, 95).unbalance_kg_m(), -weight(1, 17, 220).unbalance_kg_m()}, on_shaft);
  const auto plans = plans_from_here(shaft, stock, aim, on_shaft, radians(5.0));
  double best_slide = 1e9;
  for (const FittedWeight& w : on_shaft)
    for (int i = 0; i < 72; ++i) {
      const double to = turn_rad * i / 72;
      if (w.plane == 0 && i >= 16 && i <= 24) continue;  // the seam
      bool near = false;
      for (const FittedWeight& other : on_shaft) {
        if (&other == &w || other.plane != w.plane) continue;
        const double gap = w.plane == 0 ? 0.012 / 0.0381 : 1e-6;
        if (std::abs(std::remainder(other.angle_rad - to, turn_rad)) < gap) near = true;
      }
      if (near) continue;
      std::vector<Phasor> change(2, 0.0);
      change[static_cast<std::size_t>(w.plane)] =
          w.mass_kg * w.radius_m * (std::polar(1.0, to) - std::polar(1.0, w.angle_rad));
      best_slide = std::min(best_slide, worst_ratio(aim, change));
    }
  const Plan* one = plan_of(plans, Effort::slide_one);
  REQUIRE(one != nullptr);
  CHECK(one->worst_ratio == Approx(best_slide));
  REQUIRE(plan_of(plans, Effort::slide_two) != nullptr);
  double before = worst_ratio(aim, {0.0, 0.0});
  for (const Plan& plan : plans) {
    CHECK(plan.worst_ratio <= before - 0.05);
    before = plan.worst_ratio;
    double worst = 0.0;
    for (std::size_t i = 0; i < aim.size(); ++i) worst = std::max(worst, std::abs(plan.predicted[i]) / aim[i].limit);
    CHECK(worst == Approx(plan.worst_ratio));
  }
}

TEST_CASE("pieces of a closed plane stay, and so does metal that was taken off") {
  const Shaft shaft = shaft_of_two_planes();
  Stock stock = washers();
  stock.rules["A"].closed = true;
  const std::vector<FittedWeight> on_shaft = {weight(0, 20, 10), weight(1, -5, 40)};
  const Aim aim = aim_of(shaft, {-weight(0, 20, 90).unbalance_kg_m(), 0.0}, on_shaft);
  for (const Plan& plan : plans_from_here(shaft, stock, aim, on_shaft)) {
    CHECK(plan.slides.empty());
    CHECK(plan.taken_off.empty());
    for (const Placed& placed : plan.added) CHECK(placed.plane == 1);
  }
}

TEST_CASE("several clamps are gathered into one welded piece of the same effect") {
  const Shaft shaft = shaft_of_two_planes();
  // Two lumps of 10 g at ±60 deg about 150 are 10 g at 150.
  const std::vector<FittedWeight> on_shaft = {weight(0, 10, 90), weight(0, 10, 210), weight(1, 8, 0)};
  const Aim aim = aim_of(shaft, {-weight(0, 10, 150).unbalance_kg_m(), -weight(1, 8, 0).unbalance_kg_m()}, on_shaft);
  const FittingSummary gathered = gather_into_weld(shaft, washers(), aim, on_shaft, 0);
  REQUIRE(gathered.placed.size() == 1);
  CHECK(gathered.placed[0].piece.way == Way::weld);
  CHECK(gathered.placed[0].piece.acting_kg == Approx(10e-3));
  CHECK(degrees(gathered.placed[0].angle_rad) == Approx(150.0));
  CHECK(gathered.worst_ratio < 1e-9);
  CHECK_THROWS_AS(gather_into_weld(shaft, washers(), aim, on_shaft, 1), Error);
}

// 20 g slid from 60 to 90 deg put A right; the 10 g at B stand right already. Whatever else is worked out with more
// effort is no better by what setting to 1 deg keeps.
TEST_CASE("no piece is slid to where it is, and more effort is offered only where it betters what less effort does") {
  const Shaft shaft = shaft_of_two_planes();
  const std::vector<FittedWeight> on_shaft = {weight(0, 20, 60), weight(1, 10, 200)};
  const Aim aim =
      aim_of(shaft, {-weight(0, 20, 90).unbalance_kg_m(), -weight(1, 10.2, 201).unbalance_kg_m()}, on_shaft);
  const auto plans = plans_from_here(shaft, washers(), aim, on_shaft);
  REQUIRE(plans.size() == 1);
  CHECK(plans.front().effort == Effort::slide_one);
  double before = worst_ratio(aim, {0.0, 0.0});
  for (const auto& turned : {30.0, 3.0}) {
    const Aim both = aim_of(
        shaft, {-weight(0, 20, 60 + turned).unbalance_kg_m(), -weight(1, 10, 200 - turned).unbalance_kg_m()}, on_shaft);
    before = worst_ratio(both, {0.0, 0.0});
    for (const Plan& plan : plans_from_here(shaft, washers(), both, on_shaft)) {
      for (const Slide& slide : plan.slides)
        CHECK(std::abs(wrap_signed(slide.to_rad - on_shaft[slide.fitted].angle_rad)) > radians(1.9));
      CHECK(plan.worst_ratio <= before - 0.05);
      before = plan.worst_ratio;
    }
  }
}
