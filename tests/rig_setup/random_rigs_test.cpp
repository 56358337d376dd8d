// A hundred rigs, cabled and mounted as it happens, set up by owners who were told nothing but what to do next. What is
// right is the simulated truth (tools/rigsim/first_day.hpp), whose physics owes nothing to what is tested here.
#include <catch2/catch.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/placement/placement.hpp"
#include "owner.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// What is wrong in the file; empty: nothing.
std::string wrong_in(const Rig& rig, const rigsim::FirstDay& day) {
  std::string wrong;
  const auto check = [&](bool right, const char* what) { wrong += right ? "" : std::string(what) + " "; };
  const auto number = [](std::size_t channel) { return ChannelRef(static_cast<int>(channel) + 1); };
  check(rig.tach.channel == number(day.channel[2]), "tach channel");
  const rigsim::TachTruth& tach = day.scenario.rig.tach;
  const bool rises = (tach.low_V < tach.high_V) != (tach.rough_s > 0.0);
  check(rig.tach.edge == (rises ? Edge::rising : Edge::falling), "edge");
  check(rig.tach.pulses_per_revolution == tach.pulses_per_revolution, "pulses");
  check(rig.viewing_end == (day.viewed_from_a ? "A" : "B"), "viewing end");
  const bool counter = day.from_a_counter_clockwise == day.viewed_from_a;
  check((rig.rotation == Rotation::counter_clockwise) == counter, "rotation");
  for (std::size_t s : {0U, 1U}) {
    check(rig.sensors[s].channel == number(day.channel[s]), "sensor channel");
    check((rig.sensors[s].sensitivity.volts_per_si < 0.0) == day.inverted[s], "polarity");
    const double corner = rig.sensors[s].ac_coupling_Hz.value_or(day.sound_card_Hz);
    check(std::abs(corner - day.sound_card_Hz) <= 0.15 * day.sound_card_Hz, "high-pass");
    const rigsim::Pedestal& pedestal = day.scenario.rig.pedestals[s];
    const double natural_Hz = std::sqrt((pedestal.stiffness_N_m + day.bed_N_m) / pedestal.mass_kg) / turn_rad;
    const auto& found = rig.pedestals[s].natural_frequency_Hz;
    check(!found || std::abs(found->value / natural_Hz - 1.0) < 0.04, "natural frequency");
  }
  return wrong;
}

struct Tally {
  int right = 0, wrong = 0, asked_again = 0;
};

/// Sets up these rigs, and checks that what has no file was asked again.
Tally set_up(std::uint64_t from, std::uint64_t to) {
  Tally tally;
  for (std::uint64_t seed = from; seed <= to; ++seed) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    Owner owner(day);
    const SetupStanding standing = owner.set_up();
    CAPTURE(seed, owner.last_again, standing.rig_text.en);
    if (standing.rig_text.empty()) {
      ++tally.asked_again;
      CHECK((standing.next || standing.proof->result != ProofResult::held));
      continue;
    }
    const std::string wrong = wrong_in(read_rig_text(standing.rig_text.en, "rig.toml"), day);
    CHECK(wrong == "");
    ++(wrong.empty() ? tally.right : tally.wrong);
  }
  return tally;
}

}  // namespace

TEST_CASE("a new rig gets the right file, whatever its cables, its mark and its rotation") {
  const Tally tally = set_up(301, 304);
  CHECK(tally.right == 4);
}

TEST_CASE("of a hundred new rigs at least 98 get the right file, and the others are asked again", "[long]") {
  const Tally tally = set_up(1, 100);
  CHECK(tally.right >= 98);
  CHECK(tally.wrong == 0);
}

TEST_CASE("no file comes of a slip that the owner does not see: the proof fails aloud", "[long]") {
  for (std::uint64_t seed = 201; seed <= 240; ++seed) {
    const rigsim::FirstDay day = rigsim::random_first_day(seed);
    Slips slips;
    const std::uint64_t kind = seed % 4;
    slips.knocks_pushed_away_at_a = kind == 0;
    slips.knocked_the_other_pedestal = kind == 1;
    slips.said_the_other_side = kind == 2;
    slips.weight_at_nine = kind == 3;
    Owner owner(day, slips);
    const SetupStanding standing = owner.set_up();
    CAPTURE(seed, kind, owner.last_again);
    CHECK(standing.rig_text.empty());
    if (standing.next) continue;  // was asked again before it came to a proof
    REQUIRE(standing.proof);
    CHECK(standing.proof->result != ProofResult::held);
    CHECK_FALSE(standing.proof->against.empty());
  }
}
