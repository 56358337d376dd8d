// What a sensor shows beside orders and lines.
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/tracking/tracking.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

SensorTrack measured(const SyntheticSpin& spin) {
  MemoryRecording recording = spin.recording();
  return track(recording, spin.rig()).sensors.front();
}

SyntheticSpin noisy_spin(unsigned seed) {
  SyntheticSpin spin;
  spin.seed = seed;
  spin.noise_V = 0.01;
  return spin;
}

}  // namespace

TEST_CASE("white noise stands in octaves by their width, whatever orders, hum and belts stand in it", "[long]") {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    SyntheticSpin spin = noisy_spin(seed);
    if (seed % 2 == 0) {
      spin.sensors = {{{1, 10.0, 50.0}, {2, 3.0, 10.0}, {3, 1.0, 200.0}}};
      spin.disturbance = [&](double time_s, std::size_t) {
        return 2.0 * std::cos(turn_rad * 50.0 * time_s) + std::cos(turn_rad * 150.0 * time_s) +
               0.5 * std::cos(turn_rad * 0.43 * spin.turns_at(time_s));
      };
    }
    const SensorTrack found = measured(spin);
    CAPTURE(seed);
    REQUIRE(found.bands.size() == 8);  // 10, 20, … 1280 Hz and what is left to 1600 Hz, joined
    CHECK(found.bands.front().from_Hz == 10.0);
    CHECK(found.bands.back().to_Hz == Approx(1600.0));
    for (const NoiseBand& band : found.bands) {
      // at a line a Hz the belt, at 10.75 Hz, takes most of the lowest octave's ten lines
      if (seed % 2 == 0 && band.from_Hz == 10.0) continue;
      const double wanted = spin.noise_V * std::sqrt((band.to_Hz - band.from_Hz) / (0.5 * spin.rate_Hz));
      CHECK(std::abs(band.rms - wanted) < 4.0 * band.u_fraction * wanted);
    }
    CHECK(found.broadband_rms == Approx(spin.noise_V * std::sqrt(0.8)).epsilon(0.05));
  }
}

TEST_CASE("the stated scatter of a band is that of many recordings", "[long]") {
  std::vector<double> square(8, 0.0);
  constexpr unsigned recordings = 100;
  for (unsigned seed = 1; seed <= recordings; ++seed) {
    const SensorTrack found = measured(noisy_spin(100 + seed));
    for (std::size_t b = 0; b < found.bands.size(); ++b) {
      const NoiseBand& band = found.bands[b];
      const double wanted = 0.01 * std::sqrt((band.to_Hz - band.from_Hz) / 2000.0);
      square[b] += std::pow((band.rms / wanted - 1.0) / band.u_fraction, 2) / recordings;
    }
  }
  for (const double s : square) CHECK(std::sqrt(s) == Approx(1.0).margin(0.3));
}

TEST_CASE("a spin shorter than one spectrum has no bands") {
  SyntheticSpin spin = noisy_spin(1);
  spin.seconds = 0.6;
  CHECK(measured(spin).bands.empty());
  CHECK(measured(spin).broadband_rms == 0.0);
}
