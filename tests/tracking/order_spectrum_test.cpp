#include "counterspot/tracking/order_spectrum.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "error_code.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using counterspot::test::code_of;
using counterspot::test::MemoryRecording;
using counterspot::test::SyntheticSpin;

namespace {

constexpr double clock_step =
    2e-3;  // the clock is straight from edge to edge: in a run-up the angle between errs a little
constexpr double flatness = 2e-3;  // pass band of the interpolation, stated as 0.1 %, and the tach's edge
constexpr double folded = 2e-4;    // stop band, 80 dB down

std::size_t line_of(const OrderSpectrum& spectrum, double order) {
  return static_cast<std::size_t>(std::llround(order / spectrum.order_step));
}

OrderSpectra spectra_of(const SyntheticSpin& spin, const OrderSpectrumOptions& options = {}) {
  MemoryRecording recording = spin.recording();
  return order_spectra(recording, spin.rig(), options);
}

SyntheticSpin run_up() {
  SyntheticSpin spin;
  spin.rate_Hz = 1500.0;
  spin.seconds = 20.0;
  spin.speed_Hz = 10.0;
  spin.acceleration_Hz_per_s = 1.0;
  spin.pulse_widths_turn = {0.2};
  return spin;
}

}  // namespace

TEST_CASE("in a run-up every order stands on its line with its amplitude, as smeared as it is over frequency") {
  SyntheticSpin spin = run_up();
  spin.sensors = {{{1, 1.0, 50.0}, {2, 0.3, 10.0}, {7, 0.05, 200.0}}, {{10, 0.4, 0.0}}};
  const OrderSpectra spectra = spectra_of(spin);
  REQUIRE(spectra.sensors.size() == 2);
  const OrderSpectrum& a = spectra.sensors[0];
  CHECK(a.order_step == Approx(0.1));
  CHECK(a.amplitudes.size() == 101);
  CHECK(a.amplitudes[line_of(a, 1.0)] == Approx(1.0).epsilon(clock_step));
  CHECK(a.amplitudes[line_of(a, 2.0)] == Approx(0.3).epsilon(4.0 * clock_step));
  CHECK(a.amplitudes[line_of(a, 7.0)] == Approx(0.05).epsilon(0.05));
  CHECK(spectra.sensors[1].amplitudes.back() == Approx(0.4).epsilon(0.1));
  for (const double order : {0.5, 1.5, 3.0, 5.0}) CHECK(a.amplitudes[line_of(a, order)] < 3e-3);
  CHECK(rpm(spectra.slowest_rad_s) == Approx(600.0).epsilon(0.02));
  CHECK(rpm(spectra.fastest_rad_s) == Approx(1800.0).epsilon(0.02));
}

TEST_CASE("at steady speed the spectrum is flat to its highest order, and nothing above folds into it") {
  SyntheticSpin spin;
  spin.rate_Hz = 8000.0;
  spin.seconds = 4.0;
  spin.sensors = {{{1, 1.0, 50.0}, {10, 1.0, 10.0}}, {{23, 1.0, 0.0}, {40, 1.0, 20.0}, {33, 1.0, 5.0}}};
  const OrderSpectra spectra = spectra_of(spin);
  CHECK(spectra.sensors[0].amplitudes[10] == Approx(1.0).epsilon(flatness));
  CHECK(spectra.sensors[0].amplitudes[100] == Approx(1.0).epsilon(flatness));
  // 32 samples per turn: without the filter order 23 would stand at 9, 33 at 1 and 40 at 8
  for (const double amplitude : spectra.sensors[1].amplitudes) CHECK(amplitude < folded);
}

TEST_CASE("the spectrum is the same whatever the block, and slow and fast turns can be left out") {
  const SyntheticSpin spin = run_up();
  OrderSpectrumOptions options;
  const OrderSpectra whole = spectra_of(spin, options);
  for (const std::size_t block : {97U, 1024U}) {
    options.block_frames = block;
    CHECK(spectra_of(spin, options).sensors[0].amplitudes == whole.sensors[0].amplitudes);
  }
  options.slowest_rad_s = turn_rad * 15.0;
  options.fastest_rad_s = turn_rad * 25.0;
  const OrderSpectra part = spectra_of(spin, options);
  CHECK(part.slowest_rad_s >= options.slowest_rad_s);
  CHECK(part.fastest_rad_s <= options.fastest_rad_s);
  CHECK(part.turns < whole.turns);
  CHECK(part.sensors[0].amplitudes[10] == Approx(1.0).epsilon(clock_step));
}

TEST_CASE("white noise shows the density it has, per noise bandwidth of a line") {
  SyntheticSpin spin;
  spin.seconds = 60.0;
  spin.rate_Hz = 1000.0;
  spin.pulse_widths_turn = {0.2};
  spin.noise_V = 1.0;
  spin.sensors = {{}};
  const OrderSpectrum a = spectra_of(spin).sensors[0];
  // one-sided density 2σ²/rate per Hz, a line is 1.5·0.1·25 Hz wide, and a peak amplitude squared is twice a power
  const double expected = std::sqrt(2.0 * 2.0 / spin.rate_Hz * a.noise_bandwidth * spin.speed_Hz);
  double mean_square = 0.0;
  for (std::size_t i = 5; i < 100; ++i) mean_square += a.amplitudes[i] * a.amplitudes[i] / 95.0;
  CHECK(std::sqrt(mean_square) == Approx(expected).epsilon(0.02));
}

TEST_CASE(
    "a spectrum ends by itself where the sample rate ends, says so, and is as good as one that was asked for so far") {
  SyntheticSpin spin = run_up();
  spin.sensors = {{{1, 1.0, 50.0}, {19, 0.2, 10.0}}};
  OrderSpectrumOptions options;
  options.highest_order = 50.0;  // 0.4 of 1500 Hz is order 20 of 30 turns a second
  const OrderSpectra spectra = spectra_of(spin, options);
  const OrderSpectrum& a = spectra.sensors.front();
  const double last = a.order_at(a.amplitudes.size() - 1);
  CHECK(last * spectra.fastest_rad_s / turn_rad <= 0.4 * spin.rate_Hz);
  CHECK((last + a.order_step) * spectra.fastest_rad_s / turn_rad > 0.4 * spin.rate_Hz);
  REQUIRE(spectra.warnings.size() == 1);
  CHECK(spectra.warnings.front().code == WarningCode::orders_lowered);
  CHECK(spectra.warnings.front().message.find("and not at 50") != std::string::npos);
  CHECK(a.amplitudes[line_of(a, 19.0)] == Approx(0.2).epsilon(0.3));  // smeared in a run-up
  options.highest_order = last;
  const OrderSpectra asked = spectra_of(spin, options);
  CHECK(asked.warnings.empty());
  REQUIRE(asked.sensors.front().amplitudes.size() == a.amplitudes.size());
  CHECK(asked.sensors.front().amplitudes[line_of(a, 1.0)] == Approx(a.amplitudes[line_of(a, 1.0)]).epsilon(1e-3));
  CHECK(asked.sensors.front().amplitudes[line_of(a, 19.0)] == Approx(a.amplitudes[line_of(a, 19.0)]).epsilon(1e-3));
}

TEST_CASE("spectra that cannot be made are refused with the reason") {
  SyntheticSpin spin;
  OrderSpectrumOptions options;
  options.highest_order = 300.0;
  CHECK(code_of([&] { spectra_of(spin, options); }) == "bad_orders");
  options.highest_order = 10.0;
  options.order_step = 0.0;
  CHECK(code_of([&] { spectra_of(spin, options); }) == "bad_order_step");
  options.order_step = 0.01;
  CHECK(code_of([&] { spectra_of(spin, options); }) == "too_short");
  MemoryRecording recording = spin.recording();
  SpeedFrequencyOptions map;
  map.frequency_step_Hz = -1.0;
  CHECK(code_of([&] { speed_frequency_maps(recording, spin.rig(), map); }) == "bad_frequency");
  map.frequency_step_Hz = 0.1;
  CHECK(code_of([&] { speed_frequency_maps(recording, spin.rig(), map); }) == "too_short");
}

TEST_CASE("the map shows an order as a line that rises with speed, and a machine next door as one that does not") {
  SyntheticSpin spin = run_up();
  spin.acceleration_Hz_per_s = 0.1;
  spin.disturbance = [](double t, std::size_t) { return 0.5 * std::cos(turn_rad * 60.0 * t); };
  MemoryRecording recording = spin.recording();
  SpeedFrequencyOptions options;
  options.highest_Hz = 100.0;
  const SpeedFrequencyMaps maps = speed_frequency_maps(recording, spin.rig(), options);
  const SpeedFrequencyMap& map = maps.sensors.at(0);
  REQUIRE(map.rows() > 20);
  REQUIRE(map.amplitudes.size() == map.rows() * map.lines);
  CHECK(map.frequency_step_Hz <= 1.0);
  const auto at = [&](std::size_t row, double frequency_Hz) {
    return map.amplitude_at(row, static_cast<std::size_t>(std::llround(frequency_Hz / map.frequency_step_Hz)));
  };
  for (std::size_t r = 0; r < map.rows(); ++r) {
    const double speed_Hz = map.speeds_rad_s[r] / turn_rad;
    CHECK(speed_Hz == Approx(spin.speed_Hz + 0.1 * map.times_s[r]).epsilon(1e-3));
    CHECK(at(r, speed_Hz) > 0.84);  // between two lines a Hann window shows 15 % less
    CHECK(at(r, speed_Hz) < 1.01);
    CHECK(at(r, 60.0) > 0.42);
    CHECK(at(r, 40.0) < 0.01);
  }
}

TEST_CASE("a long map merges neighbouring rows and keeps their power") {
  SyntheticSpin spin = run_up();
  spin.acceleration_Hz_per_s = 0.0;
  spin.speed_Hz = 20.0 * 1500.0 / 2048.0;  // on a line
  MemoryRecording recording = spin.recording();
  SpeedFrequencyOptions options;
  options.most_rows = 16;
  const SpeedFrequencyMap few = speed_frequency_maps(recording, spin.rig(), options).sensors.at(0);
  recording.rewind();
  const SpeedFrequencyMap many = speed_frequency_maps(recording, spin.rig(), {}).sensors.at(0);
  CHECK(many.rows() > 16);
  CHECK(few.rows() < 16);
  for (std::size_t r = 0; r < few.rows(); ++r) CHECK(few.amplitude_at(r, 20) == Approx(1.0).epsilon(1e-3));
}
