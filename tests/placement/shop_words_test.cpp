#include "counterspot/placement/shop_words.hpp"

#include <rapidcheck.h>

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"

using namespace counterspot;

namespace {

double apart_rad(double a, double b) {
  return std::abs(std::remainder(a - b, turn_rad));
}

constexpr double half_minute_rad = 0.25 * pi / 180.0 + 1e-9;  // a clock minute is half a degree

}  // namespace

TEST_CASE("clock and tape lead back to the spot, for both rotations and both ends") {
  const bool held = rc::check("round trip", [] {
    const double angle = *rc::gen::inRange(0, 360000) * (turn_rad / 360000.0);
    const double diameter_m = *rc::gen::inRange(30, 110) * 1e-3;
    Rig rig;
    rig.rotation = *rc::gen::element(Rotation::clockwise, Rotation::counter_clockwise);
    for (const char* end : {"A", "B"}) {
      const Rotation rotation = rotation_seen_from(rig, end);
      const Spot spot = spot_at(angle, rotation, diameter_m);
      RC_ASSERT(apart_rad(shaft_angle_of_clock(parse_clock(spot.clock.text()), rotation), angle) <= half_minute_rad);
      RC_ASSERT(apart_rad(shaft_angle_of_arc(*spot.arc, diameter_m), angle) <= 1e-9);
      for (UnitSystem units : {UnitSystem::metric, UnitSystem::inch}) {
        const std::string words =
            tape_text(spot.arc->length_m, units) + " " + std::string(arc_direction_name(spot.arc->direction));
        const double step_m = units == UnitSystem::metric ? 1e-3 : m_per_in / 16.0;  // what the tape shows
        RC_ASSERT(apart_rad(shaft_angle_of_arc(parse_arc(words), diameter_m), angle) <= step_m / diameter_m + 1e-9);
      }
    }
  });
  CHECK(held);
}

TEST_CASE("seen from the other end the clock runs the other way") {
  Rig rig;
  rig.rotation = Rotation::counter_clockwise;
  // By hand: at 90 deg against rotation, seen turning counter-clockwise, the spot is clockwise of the mark: 3:00; from
  // behind 9:00.
  CHECK(spot_at(radians(90.0), rotation_seen_from(rig, "A"), {}).clock.text() == "3:00");
  CHECK(spot_at(radians(90.0), rotation_seen_from(rig, "B"), {}).clock.text() == "9:00");
}

TEST_CASE("the tape is read in sixteenths") {
  CHECK(inches_text(0.0) == "0 in");
  CHECK(inches_text(37e-3) == "1 7/16 in");  // 37 mm is 1.4567 in, 23.3 sixteenths
  CHECK(inches_text(9.525e-3) == "3/8 in");
  CHECK(inches_text(25.3e-3) == "1 in");
  CHECK(parse_arc("1 7/16 in with rotation").length_m == Approx(23.0 / 16.0 * 0.0254));
  CHECK(parse_arc("1 7/16 in with rotation").direction == ArcDirection::with_rotation);
  CHECK(parse_arc("3/8 in against").length_m == Approx(9.525e-3));
  CHECK(parse_arc("37 mm against rotation").length_m == Approx(37e-3));
  for (const char* text : {"37 mm", "with rotation", "1 7/0 in with", "37 with rotation", "-2 mm with rotation"})
    CHECK_THROWS_AS(parse_arc(text), Error);
  CHECK(parse_clock("12:30").minutes == 30);
  for (const char* text : {"0:10", "13:00", "4.37", "4:60", "4:", ""}) CHECK_THROWS_AS(parse_clock(text), Error);
}

TEST_CASE("what to take and what to weigh stands in plain words, the same in both unit systems") {
  Stock stock;
  StockKind strip;
  strip.name = "strip 20 x 4 mm";
  strip.linear_mass_kg_m = 0.628;
  strip.lengths_m = {0.038};
  strip.bead.fraction = 0.04;
  StockKind clamp;
  clamp.name = "hose clamp";
  clamp.way = Way::clamp;
  clamp.masses_kg = {9e-3};
  clamp.band_kg = 24e-3;
  StockKind drill;
  drill.name = "drill 8 mm";
  drill.way = Way::drill;
  drill.linear_mass_kg_m = 7850.0 * pi / 4.0 * 64e-6;
  drill.tip_kg = drill_tip_kg(8e-3, 7850.0);
  drill.lengths_m = {5e-3};
  stock.kinds = {strip, clamp, drill};
  const auto pieces = pieces_of(stock);
  REQUIRE(pieces.size() == 3);
  // By hand: 38 mm · 0.628 g/mm = 23.864 g; 4 % of it 0.955 g. 1 oz = 28.3495 g.
  CHECK(work_text(stock, pieces[0], UnitSystem::metric) ==
        "cut 38 mm of strip 20 x 4 mm, it must weigh 23.9 g; the bead adds about 1.0 g");
  CHECK(work_text(stock, pieces[0], UnitSystem::inch) ==
        "cut 1 1/2 in of strip 20 x 4 mm, it must weigh 0.842 oz; the bead adds about 0.034 oz");
  CHECK(pieces[0].acting_kg == Approx(24.819e-3).epsilon(1e-4));
  CHECK(work_text(stock, pieces[1], UnitSystem::metric) ==
        "clamp hose clamp, its lump 9.0 g (with its band 33.0 g on the scale)");
  // By hand: π/4·0.8²·0.5 cm³·7.85 = 1.973 g, and the cone of 118 deg: π/12·0.64·0.2403 cm (= 0.4/tan 59 deg)·7.85 =
  // 0.316 g.
  CHECK(pieces[2].acting_kg == Approx(-2.289e-3).epsilon(1e-3));
}
