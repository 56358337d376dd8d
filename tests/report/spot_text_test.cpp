// Where a weight goes, as tape and scale of angles tell it, in both languages.
#include <catch2/catch.hpp>

#include "counterspot/placement/shop_words.hpp"
#include "report/text.hpp"

using namespace counterspot;

TEST_CASE("a weight at the mark is found without a tape") {
  const Spot mark = spot_at(0.0, Rotation::clockwise, 0.0762);
  CHECK(tape_and_angle_text(mark, UnitSystem::metric) == "at the mark, shaft angle 0.0 deg");
  CHECK(spot_text(mark, UnitSystem::inch) == "12:00, at the mark, shaft angle 0.0 deg");
  // A quarter of the girth of 76.2 mm: pi * 76.2 mm / 4 = 59.8 mm.
  const Spot quarter = spot_at(radians(90.0), Rotation::clockwise, 0.0762);
  CHECK(tape_and_angle_text(quarter, UnitSystem::metric) ==
        "60 mm by tape against rotation from the mark, shaft angle 90.0 deg");
  CHECK(tape_and_angle_text(quarter, UnitSystem::metric, german()) ==
        "mit dem Bandmaß 60 mm gegen Drehrichtung von der Marke, Wellenwinkel 90,0°");
}
