// Whether hands may go to a rig of which little is known: on the simulated first day, whose truth is known.
#include <algorithm>
#include <catch2/catch.hpp>

#include "console/rig_setup_watch.hpp"
#include "counterspot/units/error.hpp"
#include "owner.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

struct WatchedDay {
  explicit WatchedDay(std::uint64_t seed = 301)
      : day(rigsim::random_first_day(seed)), watch(Owner::opened(rigsim::at_rest(day, 1, false))->info()) {}

  void show(const rigsim::Recorded& recorded) {
    const auto recording = Owner::opened(recorded);
    for (;;) {
      const auto block = recording->next(512);
      if (block.empty()) return;
      watch.push(block);
      moved = moved || watch.motion() == SetupMotion::moving;
      turned = turned || watch.turns_among_knocks();
    }
  }
  void know_rest() {
    const auto rest = Owner::opened(rigsim::at_rest(day, 2, false));
    watch.know_rest(*rest);
  }
  rigsim::Recorded turning() const { return rigsim::balancing_spin(day, {}, 3); }

  rigsim::FirstDay day;
  SetupWatch watch;
  bool moved = false;
  bool turned = false;
};

}  // namespace

TEST_CASE("before two seconds were heard of a rig nobody can say that it stands") {
  WatchedDay rig;
  CHECK(rig.watch.motion() == SetupMotion::unheard);
  CHECK_THROWS_AS(rig.watch.confirm(), Error);
}

TEST_CASE("a rig stands once somebody says so and no channel shows more than at rest") {
  WatchedDay rig;
  rig.know_rest();
  rig.show(rigsim::at_rest(rig.day, 4, false));
  CHECK(rig.watch.motion() == SetupMotion::asked);
  rig.watch.confirm();
  CHECK(rig.watch.motion() == SetupMotion::standing);
  rig.show(rigsim::at_rest(rig.day, 5, false));
  CHECK(rig.watch.motion() == SetupMotion::standing);
  rig.watch.forget();
  CHECK(rig.watch.motion() == SetupMotion::asked);
}

TEST_CASE("a turning shaft takes back that all stands, also before the tach is known, and it cannot be said again") {
  WatchedDay rig;
  rig.know_rest();
  rig.show(rigsim::at_rest(rig.day, 4, false));
  rig.watch.confirm();
  rig.show(rig.turning());
  CHECK(rig.watch.motion() == SetupMotion::moving);
  CHECK_THROWS_AS(rig.watch.confirm(), Error);
  rig.show(rigsim::at_rest(rig.day, 6, false));  // it has to be said anew
  CHECK(rig.watch.motion() == SetupMotion::asked);
}

TEST_CASE("knocks on a pedestal are not taken for a turning shaft") {
  WatchedDay rig;
  rig.know_rest();
  rig.show(rigsim::at_rest(rig.day, 4, false));
  rig.watch.confirm();
  rig.show(rigsim::knocks(rig.day, 0, true, 7));
  rig.show(rigsim::knocks(rig.day, 1, true, 8));
  CHECK_FALSE(rig.moved);
  CHECK(rig.watch.motion() == SetupMotion::standing);
}

TEST_CASE("a shaft that turns while somebody knocks is told from knocks that die away, by the sensors alone") {
  WatchedDay rig(GENERATE(range(std::uint64_t{301}, std::uint64_t{401})));
  CAPTURE(rig.day.seed);
  rig.know_rest();
  rig.show(rigsim::at_rest(rig.day, 4, false));
  rig.show(rigsim::knocks(rig.day, 0, true, 7));
  rig.show(rigsim::knocks(rig.day, 1, true, 8));
  CHECK_FALSE(rig.turned);
  // What both give adds: the pedestals are linear.
  rigsim::Recorded both = rig.turning();
  const rigsim::Recorded knocks = rigsim::knocks(rig.day, 0, true, 9);
  for (const std::size_t sensor : {rig.day.channel[0], rig.day.channel[1]}) {
    auto& volts = both.channels[sensor].volts;
    for (std::size_t i = 0; i < std::min(volts.size(), knocks.channels[sensor].volts.size()); ++i)
      volts[i] += knocks.channels[sensor].volts[i];
  }
  auto& tach = both.channels[rig.day.channel[2]].volts;
  std::fill(tach.begin(), tach.end(), tach.front());  // it is dead
  rig.show(both);
  CHECK(rig.turned);
}

TEST_CASE("a shaft whose speed changes while somebody knocks is told by the channel that is its tach") {
  WatchedDay rig(GENERATE(range(std::uint64_t{301}, std::uint64_t{341})));
  CAPTURE(rig.day.seed);
  rig.know_rest();
  rig.show(rigsim::at_rest(rig.day, 4, false));
  rig.show(rigsim::coast_down(rig.day, rig.day.scenario.balancing_rad_s, {}, 9, 12.0));
  CHECK(rig.turned);
}

TEST_CASE("impatient knocks, three within two seconds over and over, are not taken for a turning shaft") {
  WatchedDay rig(GENERATE(range(std::uint64_t{301}, std::uint64_t{401})));
  CAPTURE(rig.day.seed);
  rig.know_rest();
  rig.show(rigsim::at_rest(rig.day, 4, false));
  rigsim::Recorded all = rigsim::knocks(rig.day, 0, true, 7);
  for (const double later_s : {0.6, 1.3}) {
    const rigsim::Recorded more = rigsim::knocks(rig.day, 0, true, 8);
    const auto later = static_cast<std::size_t>(later_s * all.sample_rate_Hz);
    for (const std::size_t sensor : {rig.day.channel[0], rig.day.channel[1]}) {
      auto& volts = all.channels[sensor].volts;
      for (std::size_t i = later; i < volts.size(); ++i) volts[i] += more.channels[sensor].volts[i - later];
    }
  }
  rig.show(all);
  CHECK_FALSE(rig.turned);
}

TEST_CASE("once sensors and tach are known a shaft has to be seen to stop") {
  WatchedDay rig(GENERATE(301U, 303U));
  Owner owner(rig.day);
  const SetupStanding standing = owner.set_up();
  REQUIRE(standing.watched);
  rig.know_rest();
  rig.watch.know_rig(standing.watched);
  rig.show(rig.turning());
  CHECK(rig.watch.motion() == SetupMotion::moving);
  rig.show(rigsim::coast_down(rig.day, rig.day.scenario.balancing_rad_s, {}, 9));
  CHECK(rig.watch.motion() == SetupMotion::moving);  // no pulse for too short a time
  rig.show(rigsim::at_rest(rig.day, 10, false));
  rig.show(rigsim::at_rest(rig.day, 11, false));
  CAPTURE(rig.day.seed);
  CHECK(rig.watch.motion() == SetupMotion::asked);
  rig.watch.confirm();
  rig.show(rigsim::at_rest(rig.day, 12, false));
  CHECK(rig.watch.motion() == SetupMotion::standing);
}
