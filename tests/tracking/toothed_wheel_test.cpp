// Wheels with many teeth as the tach: against the truth that SyntheticSpin is written from.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/live_tach.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using counterspot::test::MemoryRecording;
using counterspot::test::SyntheticSpin;

namespace {

constexpr int places = 60;

/// A spin with a wheel of 60 places, some of them empty; the teeth stand off their places by so much of a pitch, one
/// standard deviation. The tooth at place 0 is where angles count from.
struct WheelSpin {
  WheelSpin(unsigned seed, const std::vector<int>& empty, double pitch_error) : draw(seed) {
    std::normal_distribution<double> normal;
    spin.rate_Hz = 12800.0;
    spin.seconds = 2.0;
    spin.speed_Hz = uniform(15.0, 20.0);
    spin.first_turn = uniform(0.0, 1.0);
    spin.edge_jitter_frames = 0.03;
    spin.tach_noise_V = 0.01;
    spin.noise_V = 0.05;
    spin.seed = seed;
    spin.pulse_positions_turn.clear();
    for (int place = 0; place < places; ++place) {
      if (std::find(empty.begin(), empty.end(), place) != empty.end()) continue;
      const double off = place == 0 ? 0.0 : pitch_error * normal(draw);
      spin.pulse_positions_turn.push_back((place + off) / places);
    }
    spin.pulse_widths_turn = {0.5 / places};
    spin.rise_frames = 2.0;
    lag_deg = uniform(0.0, 360.0);
    spin.sensors = {{{1, 1.0, lag_deg}, {2, 0.3, 20.0}}};
  }

  double uniform(double low, double high) { return std::uniform_real_distribution<double>(low, high)(draw); }

  Track measure(int stated) {
    MemoryRecording recording = spin.recording();
    Rig rig = spin.rig();
    rig.tach.pulses_per_revolution = stated;
    return track(recording, rig);
  }

  std::mt19937 draw;
  SyntheticSpin spin;
  double lag_deg = 0.0;
};

}  // namespace

TEST_CASE("with '60 minus 2' stated as 60 or as 58, order 1 is what it is with one mark behind the gap") {
  for (const std::vector<int>& empty : {std::vector<int>{58, 59}, {20, 59}}) {
    for (const int stated : {58, 60}) {
      WheelSpin wheel(5, empty, 0.02);
      const Track measured = wheel.measure(stated);
      const OrderVector& order = measured.sensors[0].orders[0];
      INFO(stated << " stated, empty " << empty.front() << " and " << empty.back());
      CHECK(measured.tach.lost == 0);
      CHECK(rpm(measured.speed_rad_s) == Approx(60.0 * wheel.spin.speed_Hz).epsilon(1e-4));
      CHECK(order.amplitude() == Approx(1.0).margin(3.0 * order.u_amplitude()));
      CHECK(std::remainder(order.phase_lag_deg() - wheel.lag_deg, 360.0) ==
            Approx(0.0).margin(3.0 * order.u_phase_lag_deg()));
      CHECK(order.u_phase_lag_deg() < 0.2);
    }
  }
}

TEST_CASE("the live speed of '60 minus 2' is that of the shaft, by either number") {
  for (const int stated : {58, 60}) {
    WheelSpin wheel(5, {58, 59}, 0.02);
    TachSetup setup;
    setup.pulses_per_revolution = stated;
    LiveTach tach(setup, 1.0, wheel.spin.rate_Hz);
    const std::vector<double> signal = wheel.spin.tach();
    for (std::size_t at = 0; at < signal.size(); at += 512)
      tach.push({signal.begin() + static_cast<std::ptrdiff_t>(at),
                 signal.begin() + static_cast<std::ptrdiff_t>(std::min(signal.size(), at + 512))});
    CHECK(rpm(tach.speed_rad_s()) == Approx(60.0 * wheel.spin.speed_Hz).epsilon(0.002));
  }
}

TEST_CASE("a number that is neither the teeth nor the places of a wheel is refused, with what was seen") {
  try {
    WheelSpin(5, {58, 59}, 0.02).measure(36);
    FAIL("36 was taken for the teeth of a wheel of 60 minus 2");
  } catch (const Error& error) {
    CHECK(error.code() == "other_wheel");
    CHECK(std::string(error.what()) ==
          "memory: the tach's pulses repeat after 58, and its gaps leave out 2 of 60; the rig file says 36 a turn");
    CHECK(error.remedy() ==
          "count the teeth that pass in a turn, and write pulses_per_revolution = 58 in the rig file if that is one "
          "turn");
  }
  try {
    WheelSpin(5, {58, 59}, 0.02).measure(1);
    FAIL("a wheel of 60 minus 2 was taken for one mark");
  } catch (const Error& error) {
    CHECK(error.code() == "more_marks");
    CHECK(std::string(error.what()) == "memory: the tach sees 58 marks a turn, and the rig file says one");
  }
}

TEST_CASE("with teeth 2 % of a pitch off, the 95 % intervals of order 1 hold in 93 to 97 of 100 spins", "[long]") {
  // two parts of 600 spins, each with a wheel of its own, fix a share of 0.95 to 0.6 %
  for (const double acceleration_Hz_per_s : {0.0, 0.08}) {
    constexpr int spins = 600;
    int amplitudes_held = 0;
    int phases_held = 0;
    for (unsigned seed = 1; seed <= spins; ++seed) {
      WheelSpin wheel(seed, {58, 59}, 0.02);
      wheel.spin.acceleration_Hz_per_s = (seed % 2 == 0 ? 1.0 : -1.0) * acceleration_Hz_per_s;
      const OrderVector order = wheel.measure(seed % 2 == 0 ? 58 : 60).sensors[0].orders[0];
      amplitudes_held += std::abs(order.amplitude() - 1.0) <= 2.0 * order.u_amplitude() ? 1 : 0;
      const double off_deg = std::remainder(order.phase_lag_deg() - wheel.lag_deg, 360.0);
      phases_held += std::abs(off_deg) <= 2.0 * order.u_phase_lag_deg() ? 1 : 0;
    }
    INFO("at " << acceleration_Hz_per_s << " Hz/s: amplitude in " << amplitudes_held << ", phase in " << phases_held
               << " of " << spins);
    CHECK(amplitudes_held >= 0.93 * spins);
    CHECK(amplitudes_held <= 0.97 * spins);
    CHECK(phases_held >= 0.93 * spins);
    CHECK(phases_held <= 0.97 * spins);
  }
}
