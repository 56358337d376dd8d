#include "tracking/angle_resampler.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

#include "counterspot/units/angle.hpp"

using namespace counterspot;

namespace {

constexpr std::size_t samples_per_turn = 16;
constexpr int turns = 60;

/// A shaft whose turns last 100 to 110 frames each, so that neighbouring ones are filtered differently, under noise.
/// Its marks stand at whole turns, or off them by a rounding or two.
std::vector<std::vector<double>> read_at_equal_angles(double off) {
  std::mt19937 random{17};
  std::uniform_real_distribution<double> frames_a_turn(100.0, 110.0);
  std::normal_distribution<double> noise;
  std::vector<double> x(turns * 110);
  for (double& each : x) each = noise(random);

  AngleResampler resampler(samples_per_turn, {0}, {1.0}, flat_up_to(1.5, samples_per_turn));
  std::vector<std::vector<double>> read(1);
  double end_frame = 0.5;
  const auto angle_rad = [&](int turn) { return turn_rad * turn * (1.0 + off); };
  for (int turn = 0; turn < turns; ++turn) {
    const double begin_frame = end_frame;
    end_frame += frames_a_turn(random);
    const auto first = static_cast<std::int64_t>(std::ceil(begin_frame));
    const auto count = static_cast<std::size_t>(static_cast<std::int64_t>(std::ceil(end_frame)) - first);
    resampler.add({{begin_frame, end_frame, angle_rad(turn), angle_rad(turn + 1)}, first, {x.data() + first, count, 1}},
                  read);
  }
  return read;
}

}  // namespace

TEST_CASE("a mark that was misread leaves no sample out") {
  // A slow steady tone under a tach whose turns are, now and then, a tenth or ten times as long as they are.
  constexpr double frames_per_turn = 400.0;
  std::vector<double> x(static_cast<std::size_t>(frames_per_turn * 60.0));
  for (std::size_t n = 0; n < x.size(); ++n)
    x[n] = std::cos(pi * static_cast<double>(n) / static_cast<double>(x.size()));
  AngleResampler resampler(samples_per_turn, {0}, {1.0}, flat_up_to(1.5, samples_per_turn));
  std::vector<std::vector<double>> read(1);
  double end_frame = 0.5;
  int turn = 0;
  for (const double length :
       {1.0, 1.0, 1.0, 1.0, 1.0, 0.1, 1.0, 1.0, 10.0, 1.0, 1.0, 1.0, 0.3, 1.0, 3.0, 1.0, 1.0, 1.0, 1.0}) {
    const double begin_frame = end_frame;
    end_frame += length * frames_per_turn;
    const auto first = static_cast<std::int64_t>(std::ceil(begin_frame));
    const auto count = static_cast<std::size_t>(static_cast<std::int64_t>(std::ceil(end_frame)) - first);
    resampler.add(
        {{begin_frame, end_frame, turn_rad * turn, turn_rad * (turn + 1)}, first, {x.data() + first, count, 1}}, read);
    ++turn;
  }
  const auto in_all = static_cast<std::size_t>(turn) * samples_per_turn;
  CHECK(read[0].size() > in_all - 2 * samples_per_turn);
  CHECK(std::is_sorted(read[0].rbegin(), read[0].rend()));  // half a cycle: it only falls
}

TEST_CASE("which turn is read at a mark is not left to rounding") {
  constexpr double rounding = 4.0 * std::numeric_limits<double>::epsilon();
  constexpr double far_less_than_a_filter_s_difference = 1e-10;  // that of neighbouring turns is 1e-2 of the noise here
  const auto exact = read_at_equal_angles(0.0).front();
  CHECK(exact.size() > (turns - 4) * samples_per_turn);
  for (const double off : {rounding, -rounding}) {
    const auto rounded = read_at_equal_angles(off).front();
    REQUIRE(rounded.size() == exact.size());
    for (std::size_t i = 0; i < exact.size(); ++i) {
      INFO("sample " << i);
      REQUIRE(std::abs(rounded[i] - exact[i]) < far_less_than_a_filter_s_difference);
    }
  }
}
