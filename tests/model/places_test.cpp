#include <catch2/catch.hpp>

#include "counterspot/model/shaft.hpp"

using namespace counterspot;

TEST_CASE("a place is read back from what documents and the log have of it") {
  for (const auto& [place, text, with_kind] :
       {std::tuple(HeldPlace{"A"}, "A", "plane A"), std::tuple(at_support(Support::c), "support C", "support C"),
        std::tuple(at_mode(2), "mode 2", "mode 2"), std::tuple(HeldPlace{"model"}, "model", "plane model")}) {
    CAPTURE(text);
    CHECK(place.text() == text);
    CHECK(place.with_kind() == with_kind);
    CHECK(place_of(text) == place);
  }
}

// Pencil: 0.25 m along the first piece of 1 m a weight rests by 3/4 on A and 1/4 on C; 2.5 m is 3/4 along the second
// piece, from C at 1 m to B at 3 m; and 1.4 m is 1/5 along it.
TEST_CASE("a weight between two supports of three rests on these two, by their levers, and not on the third") {
  const Supports supports{0.0, 3.0, 1.5, 1.0};
  CHECK(supports_of(supports) == std::vector{Support::a, Support::c, Support::b});
  CHECK(lever_to_support(supports, Support::a, 0.25) == Approx(0.75));
  CHECK(lever_to_support(supports, Support::c, 0.25) == Approx(0.25));
  CHECK(lever_to_support(supports, Support::b, 0.25) == 0.0);
  CHECK(lever_to_support(supports, Support::a, 2.5) == 0.0);
  CHECK(lever_to_support(supports, Support::c, 2.5) == Approx(0.25));
  CHECK(lever_to_support(supports, Support::b, 2.5) == Approx(0.75));
  CHECK(lever_to_support(supports, Support::c, 1.4) == Approx(0.8));
}
