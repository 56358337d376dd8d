#include "counterspot/shaft/trial.hpp"

#include <catch2/catch.hpp>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"

using namespace counterspot;

TEST_CASE("a weight pulls with m·r·Ω²") {
  // By hand: 15 g at 39 mm, 3200 rpm = 335.103 rad/s: 0.015·0.039·112294 = 65.69 N = 14.77 lbf (1 lbf = 4.4482216 N,
  // NIST SP 811).
  CHECK(pull_N(0.015, 0.039, rad_per_s(3200)) == Approx(65.69).epsilon(1e-4));
  CHECK(pull_N(0.015, 0.039, rad_per_s(3200)) / newtons_per_lbf == Approx(14.77).epsilon(1e-3));
}

TEST_CASE("a trial weight is chosen by what is known") {
  TrialQuestion q{"A", 0.039, rad_per_s(1800), {}, {}, {}, {}, {}};
  CHECK_THROWS_AS(choose_trial(q), Error);
  q.support_load_kg = 7.3;  // common practice: 10 % of the weight, 0.1·7.3·9.80665 = 7.159 N
  CHECK(choose_trial(q).pull_N == Approx(7.159).epsilon(1e-3));
  CHECK(choose_trial(q).rule == TrialRule::support_load);
  q.limit_kg_m = 349e-6;  // a coarse grade: 10 % would be lost
  CHECK(choose_trial(q).mass_kg == Approx(2 * 349e-6 / 0.039));
  CHECK(choose_trial(q).rule == TrialRule::limit);
  q.coefficient_magnitude = 2e4;
  q.reading = 60.0;  // 30 % of 60 over 2e4 is 9e-4 kg·m
  CHECK(choose_trial(q).mass_kg == Approx(9e-4 / 0.039));
  CHECK(choose_trial(q).rule == TrialRule::coefficient);
  q.reading = 2.0;  // nearly balanced: a third of that could not be read
  CHECK(choose_trial(q).mass_kg == Approx(349e-6 / 0.039));
  CHECK(choose_trial(q).rule == TrialRule::least_limit);
}

TEST_CASE("a trial weight is refused above what its clamp is stated to hold") {
  TrialQuestion q{"B", 0.039, rad_per_s(3200), 349e-6, 7.3, {}, {}, 50.0};
  try {
    choose_trial(q);
    FAIL("not refused");
  } catch (const Error& error) {
    CHECK(error.code() == "pull_too_great");
    CHECK(std::string(error.what()) ==
          "a trial weight of 17.9 g at plane B would pull with 78 N (18 lbf), and its clamp is stated to hold 50 N (11 "
          "lbf)");
  }
  q.clamp_holds_N = 80.0;
  CHECK_NOTHROW(choose_trial(q));
}

// Half of the weight on the support (common practice, no source): the pull goes with the mass, and with the speed
// squared.
TEST_CASE("a trial weight that pulls with more than half the load comes with a mass and a speed to begin with") {
  TrialWeight weight;
  weight.mass_kg = 0.020;
  weight.pull_over_load = 2.0;
  const auto gentler = gentler_start(weight, 200.0);
  REQUIRE(gentler.has_value());
  CHECK(gentler->mass_kg == Approx(0.005));
  CHECK(gentler->speed_rad_s == Approx(100.0));
  weight.pull_over_load = 0.5;
  CHECK_FALSE(gentler_start(weight, 200.0).has_value());
  weight.pull_over_load.reset();
  CHECK_FALSE(gentler_start(weight, 200.0).has_value());
}
