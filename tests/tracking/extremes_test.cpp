#include "tracking/extremes.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <random>
#include <vector>

#include "counterspot/tracking/tracking.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using counterspot::test::SyntheticSpin;

TEST_CASE("Extremes, counts and the smallest step are those of the standard library, for every length") {
  std::mt19937 random(5);
  std::uniform_int_distribution<int> level(-9, 9);
  for (std::size_t count = 1; count <= 70; ++count) {
    std::vector<double> samples(count);
    std::generate(samples.begin(), samples.end(), [&] { return 0.25 * level(random); });
    const auto [low, high] = std::minmax_element(samples.begin(), samples.end());
    const Extremes found = extremes_of(samples);
    INFO(count << " samples");
    CHECK(found.low == *low);
    CHECK(found.high == *high);
    CHECK(count_above(samples, 0.5) ==
          static_cast<std::size_t>(std::count_if(samples.begin(), samples.end(), [](double x) { return x > 0.5; })));
    double least = no_step;
    for (std::size_t n = 1; n < count; ++n) {
      const double step = std::abs(samples[n] - samples[n - 1]);
      if (step > 0.0) least = std::min(least, step);
    }
    CHECK(smallest_step(samples) == least);
  }
}

TEST_CASE("What a sensor shows does not depend on where among the channels it stands") {
  SyntheticSpin spin;
  spin.seconds = 8.0;
  spin.sensors = {{{1, 1.0, 50.0}}, {{1, 0.4, 200.0}, {2, 0.2, 10.0}}};
  spin.noise_V = 0.05;
  spin.disturbance = [](double time_s, std::size_t) { return 0.3 * std::sin(turn_rad * 31.7 * time_s); };
  auto beside = spin.recording();
  const Track expected = track(beside, spin.rig(), {});
  REQUIRE(expected.sensors[0].lines.size() == 1);

  const std::vector<std::vector<double>> channels = spin.channels();
  std::vector<std::vector<double>> apart(11, std::vector<double>(spin.frames(), 0.125));
  Rig rig = spin.rig();
  const std::vector<int> places = {10, 3, 6};  // of the sensors, then the tach; from 1
  for (std::size_t i = 0; i < places.size(); ++i) apart[static_cast<std::size_t>(places[i] - 1)] = channels[i];
  for (std::size_t s = 0; s < rig.sensors.size(); ++s) rig.sensors[s].channel = places[s];
  rig.tach.channel = places.back();
  test::MemoryRecording recording(spin.rate_Hz, apart);
  const Track found = track(recording, rig, {});
  for (std::size_t s = 0; s < expected.sensors.size(); ++s) {
    CHECK(std::abs(found.sensors[s].orders[0].value - expected.sensors[s].orders[0].value) < 1e-12);
    REQUIRE(found.sensors[s].lines.size() == 1);
    CHECK(found.sensors[s].lines[0].frequency_Hz == Approx(expected.sensors[s].lines[0].frequency_Hz).epsilon(1e-12));
  }
}
