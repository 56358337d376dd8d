// Shops of thirty shafts that are not like one another, on one rig: what the rig teaches, against what shafts alone
// teach and against physics alone. COUNTERSPOT_SHOPS=8 takes so many rigs of each kind of shop (half soft, half hard);
// without it two of the plain shop and two on a base that moves, so that the test stays short.
#include "one_off_shop.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <functional>

using namespace counterspot;
using namespace counterspot::test;

namespace {

struct Kind {
  const char* name;
  double least_late;    ///< share of the last third called within with two spins
  double least_within;  ///< share of all called within at the end, per cent; a wrong job is one of thirty
  std::function<void(ShopPlan&)> change;
};

void with_all_faults(ShopPlan& plan) {
  plan.clamping = 0.05;
  plan.base = true;
  plan.along_bed = 0.15;
  plan.other_speeds = true;
  plan.odd_modes = 1;
  plan.sensor_changed = 15;
  plan.wrong_job = 10;
}

const std::vector<Kind>& kinds() {
  static const std::vector<Kind> list = {
      {"plain, clamping 2 %", 0.95, 96.0, [](ShopPlan&) {}},
      {"clamping 0.5 %", 0.95, 96.0, [](ShopPlan& plan) { plan.clamping = 0.005; }},
      {"clamping 5 %", 0.95, 96.0, [](ShopPlan& plan) { plan.clamping = 0.05; }},
      {"base that moves", 0.95, 96.0, [](ShopPlan& plan) { plan.base = true; }},
      {"stiffness along the bed", 0.95, 96.0, [](ShopPlan& plan) { plan.along_bed = 0.15; }},
      {"a sensor changed", 0.95, 96.0, [](ShopPlan& plan) { plan.sensor_changed = 15; }},
      {"one wrong job", 0.95, 96.0, [](ShopPlan& plan) { plan.wrong_job = 10; }},
      {"900 to 2400 rpm", 0.95, 96.0, [](ShopPlan& plan) { plan.other_speeds = true; }},
      {"an odd mode, 900 to 2400 rpm", 0.95, 96.0,
       [](ShopPlan& plan) {
         plan.odd_modes = 1;
         plan.other_speeds = true;
       }},
      {"three odd modes, 900 to 2400 rpm", 0.85, 96.0,  // one more than the model has
       [](ShopPlan& plan) {
         plan.odd_modes = 3;
         plan.other_speeds = true;
       }},
      {"8 to 25 times the limit", 0.88, 96.0,
       [](ShopPlan& plan) {
         plan.least_times = 8.0;
         plan.most_times = 25.0;
       }},
      // Measured on four rigs: 90 % late and 94 % within at the end, none falsely within.
      {"all of these but the last three", 0.88, 93.0, with_all_faults},
  };
  return list;
}

/// The shops of one kind, taken together.
struct Tally {
  double first = 0.0, late = 0.0, mean = 0.0, seconds = 0.0;
  int shafts = 0, within = 0, false_within = 0, guesses = 0, louder = 0;
  int coefficients = 0, coefficients_in = 0, residuals = 0, residuals_in = 0;
};

Tally run_shops(const Kind& kind, Teacher teacher, int rigs) {
  Tally tally;
  for (int rig = 1; rig <= rigs; ++rig) {
    ShopPlan plan;
    plan.seed = static_cast<std::uint64_t>(rig);
    plan.hard = rig % 2 == 0;
    plan.teacher = teacher;
    kind.change(plan);
    const ShopOutcome outcome = run_shop(plan);
    const std::size_t third = outcome.spins.size() / 3;
    tally.first += outcome.two_spins(0, third) / rigs;
    tally.late += outcome.two_spins(2 * third, outcome.spins.size()) / rigs;
    tally.mean += outcome.mean_spins() / rigs;
    tally.seconds += outcome.seconds;
    tally.shafts += static_cast<int>(outcome.spins.size());
    for (const bool within : outcome.within) tally.within += within ? 1 : 0;
    tally.false_within += outcome.false_within;
    tally.guesses += outcome.guesses;
    tally.louder += outcome.louder;
    tally.coefficients += outcome.coefficients;
    tally.coefficients_in += outcome.coefficients_in;
    tally.residuals += outcome.residuals;
    tally.residuals_in += outcome.residuals_in;
  }
  return tally;
}

double percent(int part, int whole) {
  return whole == 0 ? 0.0 : 100.0 * part / whole;
}

void print(const Kind& kind, const char* teacher, const Tally& tally) {
  fmt::print(
      "{:<30} {:<10} two spins: first third {:3.0f} %, last {:3.0f} %; mean {:.2f}; within {:5.1f} %, falsely {}; "
      "coverage {:.1f} % foretold, {:.1f} % at the end; {} of {} first corrections made it louder; {:.0f} s\n",
      kind.name, teacher, 100.0 * tally.first, 100.0 * tally.late, tally.mean, percent(tally.within, tally.shafts),
      tally.false_within, percent(tally.coefficients_in, tally.coefficients),
      percent(tally.residuals_in, tally.residuals), tally.louder, tally.guesses, tally.seconds);
  std::fflush(stdout);
}

int rigs_wanted() {
  const char* wanted = std::getenv("COUNTERSPOT_SHOPS");
  return wanted == nullptr ? 0 : std::atoi(wanted);
}

}  // namespace

TEST_CASE("one-offs on a plain rig: two spins for late shafts, and none falsely within") {
  const Kind& plain = kinds().front();
  const Tally shafts_alone = run_shops(plain, Teacher::family, 2);
  const Tally both = run_shops(plain, Teacher::rig, 2);
  print(plain, "shafts", shafts_alone);
  print(plain, "rig", both);
  CHECK(both.late >= plain.least_late);
  CHECK(both.mean <= 2.15);
  CHECK(both.late > shafts_alone.late + 0.2);
  CHECK(both.false_within == 0);
  CHECK(both.louder == 0);
  CHECK(percent(both.within, both.shafts) >= 97.0);
}

TEST_CASE("one-offs on a rig that is more than its model: the last third stays short, and none falsely within") {
  const Kind& base = kinds()[3];
  const Tally both = run_shops(base, Teacher::rig, 2);
  print(base, "rig", both);
  CHECK(both.late >= base.least_late);
  CHECK(both.false_within == 0);
  CHECK(both.louder == 0);
}

TEST_CASE("one-offs at all speeds on a rig where more swings than its model has: most of the last third stay short") {
  const Kind& odd = kinds()[9];
  const Tally both = run_shops(odd, Teacher::rig, 1);
  print(odd, "rig", both);
  CHECK(both.late >= odd.least_late);
  CHECK(both.false_within == 0);
  CHECK(percent(both.within, both.shafts) >= 96.0);
}

TEST_CASE("with what the rig taught, what goes wrong with a shaft never ends in a false within") {
  const std::pair<const char*, Slip> slips[] = {{"sensor A halved", Slip::half_at_a},
                                                {"both sensors halved", Slip::half_at_both},
                                                {"twice the mass", Slip::twice},
                                                {"other side", Slip::other_side},
                                                {"other plane", Slip::other_plane}};
  for (const auto& [name, slip] : slips) {
    const Kind kind{name, 0.0, 0.0, [slip = slip](ShopPlan& plan) { plan.slip = slip; }};
    const Tally both = run_shops(kind, Teacher::rig, 1);
    print(kind, "rig", both);
    INFO(name);
    CHECK(both.false_within == 0);
  }
}

TEST_CASE("every kind of shop", "[long]") {
  const int rigs = rigs_wanted();
  if (rigs == 0) {
    WARN("not run: COUNTERSPOT_SHOPS says how many rigs of each kind of shop to take");
    return;
  }
  for (const Kind& kind : kinds()) {
    print(kind, "shafts", run_shops(kind, Teacher::family, rigs));
    print(kind, "physics", run_shops(kind, Teacher::physics, rigs));
    const Tally both = run_shops(kind, Teacher::rig, rigs);
    print(kind, "rig", both);
    INFO(kind.name);
    CHECK(both.late >= kind.least_late);
    CHECK(both.false_within == 0);
    CHECK(percent(both.within, both.shafts) >= kind.least_within);
  }
}
