// What is not sure is asked for again, each for its own reason. The signals are made by a line of arithmetic each.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <random>

#include "counterspot/rig_setup/findings.hpp"
#include "counterspot/units/angle.hpp"

using namespace counterspot;

namespace {

constexpr double rate_Hz = 1000.0;

/// Channels as functions of time, with noise of a thousandth of full scale.
Take take_of_signals(double seconds, const std::vector<std::function<double(double)>>& signals) {
  std::mt19937_64 random(11);
  std::normal_distribution<double> noise(0.0, 1e-3);
  Take take{rate_Hz, true, {}};
  for (const auto& signal : signals) {
    auto& samples = take.channels.emplace_back();
    for (int i = 0; i < static_cast<int>(seconds * rate_Hz); ++i)
      samples.push_back(signal(i / rate_Hz) + noise(random));
  }
  return take;
}

double nothing(double /*time_s*/) {
  return 0.0;
}

/// A mark of so wide and so high a part of the turn, from a place on it.
struct Mark {
  double at_turns = 0.0, wide_turns = 0.05, high = 0.5;
};
std::function<double(double)> tach_of(std::vector<Mark> marks, double turns_a_second) {
  return [=](double time_s) {
    const double turns = time_s * turns_a_second - 0.5;  // begins half a turn before the mark
    const double place = turns - std::floor(turns);
    for (const Mark& mark : marks)
      if (place >= mark.at_turns && place < mark.at_turns + mark.wide_turns) return mark.high;
    return 0.0;
  };
}

/// Five turns by hand in ten seconds, from half a turn before the mark to half a turn behind it.
Take turned(const std::vector<Mark>& marks) {
  return take_of_signals(10.0, {nothing, nothing, tach_of(marks, 0.5)});
}
std::string why_not(const FoundOrAgain<HandTurnFinding>& found) {
  const auto* again = std::get_if<Again>(&found);
  return again == nullptr ? "" : again->why.en;
}
std::string why_not(const FoundOrAgain<SlowRunFinding>& found) {
  const auto* again = std::get_if<Again>(&found);
  return again == nullptr ? "" : again->why.en;
}
std::string why_not(const FoundOrAgain<KnockFinding>& found) {
  const auto* again = std::get_if<Again>(&found);
  return again == nullptr ? "" : again->why.en;
}

/// Blows that let a pedestal ring at 25 Hz. @param sizes of the first swing; below zero: the other way
std::function<double(double)> knocked(const std::vector<double>& sizes, double later_s = 0.0) {
  return [=](double time_s) {
    double x = 0.0;
    for (std::size_t i = 0; i < sizes.size(); ++i) {
      const double since = time_s - 1.0 - 2.0 * static_cast<double>(i) - later_s;
      if (since > 0.0) x += sizes[i] * std::exp(-since / 0.1) * std::sin(turn_rad * 25.0 * since);
    }
    return x;
  };
}
Take knocks_seen(const std::vector<double>& own, const std::vector<double>& other, double other_later_s = 0.0) {
  return take_of_signals(8.0, {knocked(own), knocked(other, other_later_s), nothing});
}

}  // namespace

TEST_CASE("a shaft turned by hand tells the tach, or why not: glare, a stray pulse, too wide a mark, two channels") {
  const auto sound = find_tach(turned({{}}), 5, {0, 1});
  REQUIRE(std::holds_alternative<HandTurnFinding>(sound));
  CHECK(std::get<HandTurnFinding>(sound).channel == 2);
  CHECK(std::get<HandTurnFinding>(sound).marks_per_turn == 1);
  CHECK(why_not(find_tach(turned({{}, {.at_turns = 0.4, .high = 0.37}}), 5, {0, 1})) ==
        "the tach's pulses are not all of one height: something else shines beside the mark");
  CHECK(why_not(find_tach(turned({{.wide_turns = 0.45}}), 5, {0, 1})) ==
        "the tach sees mark and shaft for almost the same time");
  CHECK(why_not(find_tach(turned({}), 5, {0, 1})) == "no channel but the sensors' shows pulses");
  CHECK(why_not(find_tach(turned({{}}), 4, {0, 1})) == "5 pulses came, which does not fit 4 whole turns");
  const Take both = take_of_signals(10.0, {nothing, tach_of({{}}, 0.5), tach_of({{}}, 0.5)});
  CHECK(why_not(find_tach(both, 5, {0})) == "channels 2 and 3 both show pulses");
  const auto two = find_tach(turned({{}, {.at_turns = 0.4}}), 5, {0, 1});
  REQUIRE(std::holds_alternative<HandTurnFinding>(two));
  CHECK(std::get<HandTurnFinding>(two).marks_per_turn == 2);
}

TEST_CASE("a slow run tells the edges, or why not: two marks that are alike, too few turns, no pulses") {
  const HandTurnFinding one{2, false, 1, false};
  const HandTurnFinding two{2, false, 2, false};
  const auto run = [](const std::vector<Mark>& marks, double seconds) {
    return take_of_signals(seconds, {nothing, nothing, tach_of(marks, 5.0)});
  };
  const auto sound = find_edges(run({{}}, 10.0), one);
  REQUIRE(std::holds_alternative<SlowRunFinding>(sound));
  CHECK(std::get<SlowRunFinding>(sound).mark_turns == Approx(0.05).margin(0.0055));  // a sample is 0.005
  CHECK(std::get<SlowRunFinding>(sound).speed_rad_s == Approx(5.0 * turn_rad).epsilon(1e-3));
  CHECK(why_not(find_edges(run({{}, {.at_turns = 0.5}}, 10.0), two)) ==
        "2 marks pass per turn, and none can be told from the others");
  const auto told_apart = find_edges(run({{}, {.at_turns = 0.5, .wide_turns = 0.1}}, 10.0), two);
  CHECK(why_not(told_apart) == "");  // one is twice as wide
  CHECK(why_not(find_edges(run({{}}, 3.0), one)) == "fewer than 20 turns are seen");
  CHECK(why_not(find_edges(run({}, 10.0), one)) == "the tach shows no pulses");
}

TEST_CASE("three knocks tell a sensor, or why not: their number, their side, their place, and full scale") {
  const auto sound = find_knocks(knocks_seen({0.4, 0.5, 0.45}, {0.02, 0.025, 0.02}, 0.004));
  REQUIRE(std::holds_alternative<KnockFinding>(sound));
  CHECK(std::get<KnockFinding>(sound).channel == 0);
  CHECK_FALSE(std::get<KnockFinding>(sound).inverted);
  CHECK(std::get<KnockFinding>(sound).natural_frequency_Hz->value == Approx(25.0).epsilon(0.02));
  CHECK(std::get<KnockFinding>(find_knocks(knocks_seen({-0.4, -0.5, -0.4}, {}))).inverted);
  CHECK(why_not(find_knocks(knocks_seen({}, {}))) == "no knock stands out of the noise in any channel");
  CHECK(why_not(find_knocks(knocks_seen({0.4, 0.5}, {}))) == "2 knocks are seen where 3 were asked for");
  CHECK(why_not(find_knocks(knocks_seen({0.4, -0.5, 0.4}, {}))) == "the knocks do not all push the same way at first");
  CHECK(why_not(find_knocks(knocks_seen({0.4, 0.5, 0.4}, {0.2, 0.25, 0.2}, 0.002))) ==
        "two channels show the knocks almost alike");
  CHECK(why_not(find_knocks(knocks_seen({0.4, 0.5, 0.4}, {0.1, 0.1, 0.1}, -0.02))) ==
        "channel 2 shows a knock before channel 1 does, which is larger");
  CHECK(why_not(find_knocks(knocks_seen({0.4, 1.4, 0.4}, {}))) == "a knock reached the end of the range of channel 1");
}
