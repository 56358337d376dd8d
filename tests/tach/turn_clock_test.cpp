#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <set>
#include <vector>

#include "counterspot/units/angle.hpp"
#include "tach/turn_clock.hpp"

using namespace counterspot;

namespace {

std::vector<Turn> turns_of(TurnClock& clock, const std::vector<Pulse>& pulses) {
  std::vector<Turn> turns;
  for (const Pulse& pulse : pulses) clock.push(pulse, turns);
  clock.finish(turns);
  return turns;
}

std::int64_t whole_turns(const std::vector<Turn>& turns) {
  double angle = 0.0;
  for (const Turn& turn : turns) angle += turn.end_angle_rad - turn.begin_angle_rad;
  return std::llround(angle / turn_rad);
}

std::vector<Pulse> even_pulses(int count, double interval) {
  std::vector<Pulse> pulses;
  for (int i = 0; i < count; ++i) pulses.push_back({10.0 + interval * i, 5.0});
  return pulses;
}

/// Pulses at the given places of each turn, with widths.
std::vector<Pulse> patterned(const std::vector<double>& places, const std::vector<double>& widths, int turns,
                             double turn_frames) {
  std::vector<Pulse> pulses;
  for (int t = 0; t < turns; ++t) {
    for (std::size_t p = 0; p < places.size(); ++p)
      pulses.push_back({turn_frames * (t + places[p]), widths[p % widths.size()]});
  }
  return pulses;
}

/// The teeth of an even wheel, by their places, some left out; each off its place by so much of a pitch, one standard
/// deviation.
std::vector<double> wheel(int places, const std::set<int>& left_out, double pitch_error = 0.0, unsigned seed = 1) {
  std::mt19937 generator(seed);
  std::normal_distribution<double> normal;
  std::vector<double> teeth;
  for (int i = 0; i < places; ++i) {
    const double off = pitch_error * normal(generator);
    if (!left_out.contains(i)) teeth.push_back((i + off) / places);
  }
  return teeth;
}

/// The same pulses without those before the recording began.
std::vector<Pulse> from_pulse(std::vector<Pulse> pulses, int first) {
  pulses.erase(pulses.begin(), pulses.begin() + first);
  return pulses;
}

double place_in_turn(const Turn& turn, double turn_frames) {
  const double turns = turn.begin_frame / turn_frames;
  return turns - std::floor(turns + 1e-6);
}

}  // namespace

TEST_CASE("a turn runs from edge to edge") {
  TurnClock clock(1);
  const auto turns = turns_of(clock, even_pulses(21, 100.0));
  REQUIRE(turns.size() == 20);
  CHECK(turns.front().begin_frame == 10.0);
  CHECK(turns.back().end_frame == 2010.0);
  CHECK(clock.lost() == 0);
  CHECK(clock.doubled() == 0);
}

TEST_CASE("lost pulses are bridged and counted, and no turn is lost with them") {
  for (const std::set<std::size_t>& lost : {std::set<std::size_t>{7}, {7, 8, 9}, {5, 9, 15}, {2}, {1}}) {
    auto pulses = even_pulses(31, 100.0);
    std::vector<Pulse> kept;
    for (std::size_t i = 0; i < pulses.size(); ++i) {
      if (!lost.contains(i)) kept.push_back(pulses[i]);
    }
    TurnClock clock(1);
    const auto turns = turns_of(clock, kept);
    CHECK(whole_turns(turns) == 30);
    CHECK(clock.lost() == static_cast<std::int64_t>(lost.size()));
    CHECK(clock.doubled() == 0);
  }
}

TEST_CASE("an extra edge anywhere in a turn is dropped and counted, the true edges stay") {
  for (const double place : {0.01, 0.05, 0.2, 0.33, 0.5, 0.62, 0.7, 0.85, 0.98}) {
    for (const std::size_t after : {0U, 3U, 10U, 20U}) {
      auto pulses = even_pulses(31, 100.0);
      pulses.insert(pulses.begin() + static_cast<std::ptrdiff_t>(after) + 1,
                    {pulses[after].edge_frame + 100.0 * place, 1.0});
      TurnClock clock(1);
      const auto turns = turns_of(clock, pulses);
      INFO("extra edge " << place << " turns after pulse " << after);
      CHECK(whole_turns(turns) == 30);
      CHECK(clock.doubled() == 1);
      CHECK(clock.lost() == 0);
      for (const Turn& turn : turns) CHECK(std::remainder(turn.begin_frame - 10.0, 100.0) == Approx(0.0).margin(1e-9));
    }
  }
}

TEST_CASE("a shaft that speeds up from crawling to running is followed turn by turn") {
  std::vector<Pulse> pulses;
  for (int turn = 0; turn < 200; ++turn)
    pulses.push_back({4000.0 * std::sqrt(turn + 1.0), 3.0});  // constant acceleration
  TurnClock clock(1);
  const auto turns = turns_of(clock, pulses);
  CHECK(whole_turns(turns) == 199);
  CHECK(clock.lost() == 0);
  CHECK(clock.doubled() == 0);
}

TEST_CASE("a long standstill starts the clock anew and makes no turn") {
  auto pulses = even_pulses(20, 100.0);
  for (const Pulse& pulse : even_pulses(20, 100.0)) pulses.push_back({pulse.edge_frame + 50000.0, 5.0});
  TurnClock clock(1);
  const auto turns = turns_of(clock, pulses);
  CHECK(whole_turns(turns) == 38);
  CHECK(clock.lost() == 0);
}

TEST_CASE("the pulse that ends the odd gap is the mark: a tooth left out, an extra tooth, two unlike halves") {
  struct Case {
    std::vector<double> places;
    double mark;
  };
  const std::vector<Case> cases = {{{0.0, 0.25, 0.5}, 0.0},  // the tooth at 0.75 is left out: the gap ends at 0
                                   {{0.1, 0.35, 0.6}, 0.1},
                                   {{0.0, 0.2, 0.3, 0.4, 0.6, 0.8}, 0.3},  // an extra tooth at 0.3
                                   {{0.0, 0.4}, 0.0},                      // the longer gap, from 0.4, ends at 0
                                   {{0.0, 0.6}, 0.6}};
  for (const Case& c : cases) {
    TurnClock clock(static_cast<int>(c.places.size()));
    const auto turns = turns_of(clock, patterned(c.places, {4.0}, 20, 1000.0));
    REQUIRE(turns.size() >= 18);
    for (const Turn& turn : turns) CHECK(place_in_turn(turn, 1000.0) == Approx(c.mark).margin(1e-9));
    CHECK(clock.lost() == 0);
    CHECK(clock.doubled() == 0);
  }
}

TEST_CASE("among evenly spaced pulses the wide one is the mark") {
  TurnClock clock(3);
  const auto turns = turns_of(clock, patterned({0.0, 1.0 / 3.0, 2.0 / 3.0}, {10.0, 30.0, 10.0}, 20, 900.0));
  REQUIRE(turns.size() >= 18);
  for (const Turn& turn : turns) CHECK(place_in_turn(turn, 900.0) == Approx(1.0 / 3.0).margin(1e-9));
}

TEST_CASE("pulses that look all alike give no turn, and the clock says why") {
  TurnClock clock(4);
  const auto turns = turns_of(clock, patterned({0.0, 0.25, 0.5, 0.75}, {10.0}, 20, 900.0));
  CHECK(turns.empty());
  CHECK(clock.unidentified());
}

TEST_CASE("with several pulses a turn, lost and extra ones do not move the mark") {
  auto pulses = patterned({0.0, 0.25, 0.5}, {4.0}, 30, 1000.0);
  pulses.erase(pulses.begin() + 40);                                        // an ordinary pulse
  pulses.erase(pulses.begin() + 60 - 1);                                    // a mark
  pulses.insert(pulses.begin() + 71, {pulses[70].edge_frame + 60.0, 4.0});  // and an extra one
  TurnClock clock(3);
  const auto turns = turns_of(clock, pulses);
  CHECK(whole_turns(turns) == 29);
  CHECK(clock.lost() == 2);
  CHECK(clock.doubled() == 1);
  for (const Turn& turn : turns) CHECK(std::remainder(turn.begin_frame, 1000.0) == Approx(0.0).margin(1e-9));
}

TEST_CASE("the timing uncertainty is the scatter of the edges, whatever the acceleration") {
  std::mt19937 generator(5);
  std::normal_distribution<double> normal;
  const double sigma = 0.4;
  for (const double acceleration : {0.0, 1e-4}) {
    std::vector<Pulse> pulses;
    for (int i = 0; i < 3000; ++i)
      pulses.push_back({1e6 + i * 100.0 - acceleration * i * i + sigma * normal(generator), 5.0});
    TurnClock clock(1);
    turns_of(clock, pulses);
    CHECK(clock.timing_uncertainty_frames() == Approx(sigma).epsilon(0.06));  // three standard errors of the estimate
  }
}

TEST_CASE(
    "a wheel of 60 teeth of which two are missing may be stated as 60 or as 58: the first behind the gap is the mark") {
  for (const double pitch_error : {0.0, 0.02}) {
    const std::vector<double> teeth = wheel(60, {12, 13}, pitch_error);
    const double mark = teeth[12];  // what was number 14
    for (const int stated : {58, 60}) {
      TurnClock clock(stated);
      const auto turns = turns_of(clock, from_pulse(patterned(teeth, {4.0}, 20, 1000.0), 31));
      REQUIRE(turns.size() >= 18);
      for (const Turn& turn : turns) CHECK(place_in_turn(turn, 1000.0) == Approx(mark).margin(1e-9));
      CHECK(clock.lost() == 0);
      CHECK(clock.doubled() == 0);
    }
  }
}

TEST_CASE(
    "of two like gaps the one that is followed by the other sooner ends at the mark, wherever a recording begins") {
  const std::vector<double> teeth = wheel(60, {10, 30}, 0.02);
  for (const int stated : {58, 60}) {
    for (int first = 0; first < 58; first += 7) {
      TurnClock clock(stated);
      const auto turns = turns_of(clock, from_pulse(patterned(teeth, {4.0}, 20, 1000.0), first));
      INFO(stated << " stated, from pulse " << first);
      REQUIRE(turns.size() >= 18);
      for (const Turn& turn : turns) CHECK(place_in_turn(turn, 1000.0) == Approx(teeth[10]).margin(1e-9));
    }
  }
}

TEST_CASE("two gaps across from each other look alike after half a turn: no turn") {
  TurnClock clock(58);
  CHECK(turns_of(clock, patterned(wheel(60, {10, 40}), {4.0}, 20, 1000.0)).empty());
  CHECK(clock.unidentified());
}

TEST_CASE("a wheel that is neither what is stated nor that with teeth left out makes no turn, and is described") {
  for (const int stated : {20, 36, 48, 61, 100}) {
    TurnClock clock(stated);
    CHECK(turns_of(clock, patterned(wheel(60, {58, 59}), {4.0}, 40, 1000.0)).empty());
    REQUIRE(clock.other_wheel());
    CHECK(clock.other_wheel()->pulses == 58);
    CHECK(clock.other_wheel()->places == 60);
  }
}

TEST_CASE("a wheel with teeth left out that is stated as one mark shows itself by what seems lost") {
  for (const std::set<int>& left_out : {std::set<int>{59}, {58, 59}, {57, 58, 59}}) {
    TurnClock clock(1);
    turns_of(clock, patterned(wheel(60, left_out), {4.0}, 20, 60000.0));
    CHECK(clock.marks_beyond_one() == 60 - static_cast<int>(left_out.size()));
  }
}

TEST_CASE("no tooth of a wheel is the mark in one recording and another one in the next, however unevenly they stand") {
  std::mt19937 generator(3);
  std::normal_distribution<double> normal;
  int identified = 0;
  for (unsigned each = 1; each <= 12; ++each) {
    const std::vector<double> teeth = wheel(24, {}, 0.04, each);
    std::set<long> marks;
    for (int first = 0; first < 24; first += 5) {
      std::vector<Pulse> pulses = from_pulse(patterned(teeth, {4.0}, 12, 1000.0), first);
      for (Pulse& pulse : pulses) pulse.edge_frame += 0.2 * normal(generator);
      TurnClock clock(24);
      for (const Turn& turn : turns_of(clock, pulses))
        marks.insert(std::lround(24.0 * place_in_turn(turn, 1000.0)) % 24);
    }
    CHECK(marks.size() <= 1);
    identified += static_cast<int>(marks.size());
  }
  CHECK(identified > 0);
}

TEST_CASE("pulses that look all alike have no mark while the shaft speeds up or slows down either") {
  for (const double acceleration : {0.1, 0.2, -0.004}) {  // turns per (1000 frames)²
    for (const int pulses_a_turn : {2, 4, 6}) {
      for (int first = 0; first < pulses_a_turn; ++first) {
        std::vector<Pulse> pulses;
        for (int i = first; i < 20 * pulses_a_turn; ++i) {
          const double turns = static_cast<double>(i) / pulses_a_turn;
          pulses.push_back({1000.0 * (std::sqrt(1.0 + 2.0 * acceleration * turns) - 1.0) / acceleration, 4.0});
        }
        TurnClock clock(pulses_a_turn);
        INFO(acceleration << ", " << pulses_a_turn << " pulses a turn, from pulse " << first);
        CHECK(turns_of(clock, pulses).empty());
      }
    }
  }
}
