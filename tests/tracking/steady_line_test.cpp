// What stands still over time, what turns with the shaft at an order that is no whole number, and what is neither.
// Truth is written down by SyntheticSpin.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/tracking/tracking.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using counterspot::test::MemoryRecording;
using counterspot::test::SyntheticSpin;

namespace {

Track measure(const SyntheticSpin& spin) {
  MemoryRecording recording = spin.recording();
  return track(recording, spin.rig());
}

bool says(const Track& track, WarningCode code, const std::string& words) {
  return std::any_of(track.warnings.begin(), track.warnings.end(), [&](const Warning& warning) {
    return warning.code == code && warning.message.find(words) != std::string::npos;
  });
}

/// A spin of a noisy floor, whose speed drifts by up to 2 %, with orders 1, 2, 3, 4 and 7.
struct Floor {
  explicit Floor(unsigned seed) : draw(seed) {
    spin.rate_Hz = 2000.0;
    spin.seconds = uniform(4.0, 8.0);
    spin.speed_Hz = uniform(22.0, 32.0);
    drift = uniform(-0.02, 0.02);
    spin.acceleration_Hz_per_s = drift * spin.speed_Hz / spin.seconds;
    spin.noise_V = 0.1;
    spin.tach_noise_V = 0.02;
    spin.edge_jitter_frames = 0.05;
    spin.pulse_widths_turn = {0.2};
    spin.seed = seed;
    spin.sensors = {{{1, uniform(0.3, 1.3), uniform(0.0, 360.0)},
                     {2, uniform(0.0, 1.0), uniform(0.0, 360.0)},
                     {3, uniform(0.0, 0.3), uniform(0.0, 360.0)},
                     {4, uniform(0.0, 0.2), 100.0},
                     {7, uniform(0.0, 0.5), 3.0}}};
  }
  double uniform(double low, double high) { return std::uniform_real_distribution<double>(low, high)(draw); }
  double largest() const {
    double most = 0.0;
    for (const auto& line : spin.sensors[0]) most = std::max(most, line.amplitude);
    return most;
  }
  /// Standard uncertainty of an amplitude in white noise (Kay, Estimation Theory, 1993): σ√(2/N).
  double u() const { return spin.noise_V * std::sqrt(2.0 / static_cast<double>(spin.frames())); }

  std::mt19937 draw;
  SyntheticSpin spin;
  double drift = 0.0;
};

/// What is said to be surely found: the header of tracking.hpp.
double surely_found(const Floor& busy) {
  return std::max(sure_over_uncertainty * busy.u(), sure_share_of_largest * busy.largest());
}

}  // namespace

TEST_CASE("300 recordings with hum, gears and a drifting speed: no false line, and every true one", "[long]") {
  int false_lines = 0;
  int missed = 0;
  int true_ones = 0;
  int shown = 0;
  for (unsigned seed = 1; seed <= 300; ++seed) {
    Floor busy(seed);
    SyntheticSpin& spin = busy.spin;
    const bool hums = busy.uniform(0.0, 1.0) < 0.6;
    const bool gear = busy.uniform(0.0, 1.0) < 0.6;
    const double hum_Hz = busy.uniform(0.0, 1.0) < 0.5 ? 50.0 : 60.0;
    const double hum = surely_found(busy) * std::exp(busy.uniform(0.0, 3.0));
    const double which = busy.uniform(0.0, 1.0);
    double order = which < 0.3 ? 0.6 : which < 0.6 ? 3.638 : busy.uniform(0.3, 3.3);
    if (std::abs(order - std::round(order)) < 0.03) order += 0.1;
    const double toothed = surely_found(busy) * std::exp(busy.uniform(0.0, 3.0));
    const double lag = busy.uniform(0.0, turn_rad);
    spin.disturbance = [&](double t, std::size_t) {
      return (hums ? hum * std::cos(turn_rad * hum_Hz * t + lag) : 0.0) +
             (gear ? toothed * std::cos(order * turn_rad * spin.turns_at(t) - lag) : 0.0);
    };
    const Track measured = measure(spin);
    const double mean_Hz = measured.speed_rad_s / turn_rad;
    bool hum_found = false;
    bool gear_found = false;
    for (const SteadyLine& line : measured.sensors[0].lines) {
      const bool is_hum = hums && std::abs(line.frequency_Hz - hum_Hz) < 0.5 / measured.duration_s &&
                          line.steady != Steadiness::in_angle;
      const bool is_gear = gear && std::abs(line.order - order) * mean_Hz < 0.5 / measured.duration_s &&
                           line.steady != Steadiness::in_time;
      hum_found = hum_found || is_hum;
      gear_found = gear_found || is_gear;
      shown += line.steady != Steadiness::either ? 1 : 0;
      if (is_hum || is_gear) continue;
      ++false_lines;
      WARN("seed " << seed << ": " << line.frequency_Hz << " Hz, order " << line.order << ", where nothing was");
    }
    // out of what is stated: beyond three orders above, beside a whole order, beside one another
    const double hum_order = hum_Hz / mean_Hz;
    const double apart_Hz = std::abs(hum_Hz - order * mean_Hz);
    const bool told_apart =
        !(hums && gear) || apart_Hz * measured.duration_s > 5.0 + std::abs(busy.drift) * hum_Hz * spin.seconds;
    const bool beside_order = std::abs(hum_order - std::round(hum_order)) * mean_Hz * measured.duration_s < 2.0;
    if (hums && told_apart && !beside_order && hum_order < 3.9) {
      ++true_ones;
      missed += hum_found ? 0 : 1;
      if (!hum_found)
        WARN("seed " << seed << ": hum of " << hum << " at " << hum_Hz << " Hz, order " << hum_order << ", missed");
    }
    if (gear && told_apart) {
      ++true_ones;
      missed += gear_found ? 0 : 1;
      if (!gear_found) WARN("seed " << seed << ": order " << order << " of " << toothed << " missed");
    }
  }
  INFO(true_ones << " true ones, " << shown << " of which it was shown what they are");
  CHECK(false_lines == 0);
  CHECK(missed == 0);
  CHECK(true_ones > 250);
  CHECK(shown > true_ones / 3);
}

TEST_CASE("where the speed drifts, hum is said not to turn with the shaft, and a gear is named by its order") {
  SyntheticSpin spin;
  spin.speed_Hz = 27.0;
  spin.acceleration_Hz_per_s = 0.02 * 27.0 / 4.0;
  spin.noise_V = 0.05;
  spin.disturbance = [&](double t, std::size_t) {
    return 0.3 * std::cos(turn_rad * 50.0 * t) + 0.2 * std::cos(turn_rad * 3.638 * spin.turns_at(t));
  };
  const Track measured = measure(spin);
  CHECK(says(measured, WarningCode::interference, "50.0 Hz was fitted along; it does not turn with the shaft"));
  CHECK(says(measured, WarningCode::other_order, "order 3.638"));
  REQUIRE(measured.sensors[0].lines.size() == 2);
  CHECK(measured.sensors[0].lines[0].steady == Steadiness::in_time);
  CHECK(measured.sensors[0].lines[0].amplitude == Approx(0.3).epsilon(0.02));
  CHECK(measured.sensors[0].lines[1].steady == Steadiness::in_angle);
  CHECK(measured.sensors[0].lines[1].amplitude == Approx(0.2).epsilon(0.03));
  CHECK(measured.sensors[0].orders[0].amplitude() == Approx(1.0).epsilon(0.005));
}

TEST_CASE("at a speed that does not drift nobody can tell what a line is, and nobody does") {
  SyntheticSpin spin;
  spin.noise_V = 0.05;
  spin.disturbance = [](double t, std::size_t) { return 0.3 * std::cos(turn_rad * 61.3 * t); };
  const Track measured = measure(spin);
  REQUIRE(measured.sensors[0].lines.size() == 1);
  CHECK(measured.sensors[0].lines[0].steady == Steadiness::either);
  CHECK(says(measured, WarningCode::interference, "61.3 Hz"));
  CHECK_FALSE(says(measured, WarningCode::interference, "does not turn"));
}

TEST_CASE("a dominant order 2, the noise of a resonance and pink noise are no lines", "[long]") {
  int named = 0;
  for (unsigned seed = 1; seed <= 120; ++seed) {
    Floor busy(seed);
    SyntheticSpin& spin = busy.spin;
    spin.sensors = {{{1, 0.05, 30.0}, {2, 3.0, 70.0}}};
    if (seed % 2 == 1) spin.acceleration_Hz_per_s *= 0.05;
    if (seed % 3 == 0) {  // a pedestal at 1.3 to 3.3 orders, damped by 1 to 3 %, shaken by the floor
      std::vector<double> resonant(spin.frames());
      std::normal_distribution<double> normal;
      const double omega = turn_rad * busy.uniform(1.3, 3.3) * spin.speed_Hz / spin.rate_Hz;
      const double radius = std::exp(-busy.uniform(0.01, 0.03) * omega);
      double before = 0.0;
      double last = 0.0;
      for (double& v : resonant) {
        v = 2.0 * radius * std::cos(omega) * last - radius * radius * before + 0.02 * normal(busy.draw);
        before = last;
        last = v;
      }
      spin.disturbance = [&spin, resonant](double t, std::size_t) {
        return resonant[std::min(resonant.size() - 1, static_cast<std::size_t>(t * spin.rate_Hz + 0.5))];
      };
    }
    const Track measured = measure(spin);
    for (const SteadyLine& line : measured.sensors[0].lines) {
      ++named;
      WARN("seed " << seed << ": " << line.frequency_Hz << " Hz, order " << line.order << ", amplitude "
                   << line.amplitude);
    }
  }
  CHECK(named == 0);
}

TEST_CASE("a sensor that settles does not bias order 1, and is named") {
  SyntheticSpin spin;
  spin.seconds = 6.0;
  spin.noise_V = 0.005;
  spin.sensors = {{{1, 0.02, 50.0}}};
  spin.disturbance = [](double t, std::size_t) { return 0.2 * std::exp(-t / 1.5); };
  const Track measured = measure(spin);
  const OrderVector& vector = measured.sensors[0].orders[0];
  const Phasor error = vector.value - phasor_at(0.02, radians(50.0));
  // by hand: a level that falls by 0.196 V over 149 turns looks like 0.196/(149π) = 0.42 mV of order 1
  CHECK(std::abs(error) < 0.00015);
  CHECK(vector.u_amplitude() < 0.0001);
  CHECK(says(measured, WarningCode::moving_level, "rest level"));
  MemoryRecording recording = spin.recording();
  TrackOptions plain;
  plain.fit_disturbances = false;
  const Phasor biased = track(recording, spin.rig(), plain).sensors[0].orders[0].value;
  CHECK(std::abs(biased - phasor_at(0.02, radians(50.0))) == Approx(0.00042).epsilon(0.25));
  SyntheticSpin sound;
  sound.noise_V = 0.05;
  CHECK_FALSE(says(measure(sound), WarningCode::moving_level, ""));
}
