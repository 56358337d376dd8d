// The daily check by knocks: a rig that is as it was is within, and each change that knocks can tell is named.
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/tap_guide.hpp"
#include "counterspot/rig_setup/tap_check.hpp"
#include "owner.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

FoundOrAgain<TapCheck> checked(const rigsim::FirstDay& day, const Rig& rig, std::uint64_t seed,
                               const std::optional<TapRecord>& before) {
  const auto a = Owner::opened(rigsim::knocks(day, 0, true, seed));
  const auto b = Owner::opened(rigsim::knocks(day, 1, true, seed + 1));
  return tap_check(rig, *a, *b, before);
}

bool is_within(const FoundOrAgain<TapCheck>& found) {
  const auto* check = std::get_if<TapCheck>(&found);
  return check != nullptr && check->within;
}

}  // namespace

TEST_CASE("a rig that is as it was is within by knocks; a sensor turned over or in another channel is not") {
  for (const std::uint64_t seed : {301ULL, 302ULL, 303ULL}) {
    CAPTURE(seed);
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    const SetupStanding standing = Owner(day).set_up();
    REQUIRE(standing.rig);
    const Rig& rig = *standing.rig;
    const auto first = checked(day, rig, 9000 + seed, std::nullopt);
    REQUIRE(is_within(first));
    const TapRecord record = std::get<TapCheck>(first).record;
    const auto next = checked(day, rig, 9500 + seed, record);
    if (const auto* check = std::get_if<TapCheck>(&next)) {
      for (const Said& sentence : check->against) UNSCOPED_INFO(sentence.en);
      CHECK(check->within);
    }
    rigsim::FirstDay turned = day;
    turned.inverted[0] = !turned.inverted[0];
    CHECK_FALSE(is_within(checked(turned, rig, 9000 + seed, record)));
    rigsim::FirstDay exchanged = day;
    std::swap(exchanged.channel[0], exchanged.channel[1]);
    CHECK_FALSE(is_within(checked(exchanged, rig, 9000 + seed, record)));
    if (!record.a_over_b) continue;
    TapRecord half = record;
    half.a_over_b = 0.5 * *record.a_over_b;
    CHECK_FALSE(is_within(checked(day, rig, 9000 + seed, half)));
  }
}

TEST_CASE("what failed by knocks speaks against the day's shafts until knocks are within again") {
  const TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  TapCheck check;
  check.within = true;
  check.record.a_over_b = 1.5;
  keep_taps(log, "bay 7", check, "test", 1000);
  CHECK(knowledge_of_rig(log, "bay 7").noticed.empty());
  check.within = false;
  check.against = {{"sensor A is turned over", "Aufnehmer A ist umgepolt"}};
  keep_taps(log, "bay 7", check, "test", 2000);
  REQUIRE(knowledge_of_rig(log, "bay 7").noticed.size() == 1);
  CHECK(knowledge_of_rig(log, "bay 7").noticed[0].code == WarningCode::qualification_failed);
  CHECK(newest_taps(log, "bay 7", true)->record.a_over_b == 1.5);
  CHECK(log.check().faults.empty());
  check.within = true;
  keep_taps(log, "bay 7", check, "test", 3000);
  CHECK(knowledge_of_rig(log, "bay 7").noticed.empty());
}
