#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <cstdio>
#include <cstdlib>

#include "counterspot/error.hpp"
#include "counterspot/sweep.hpp"
#include "support.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using counterspot::test::MemoryRecording;
using counterspot::test::SyntheticSpin;
using Complex = std::complex<double>;

namespace {

std::vector<Complex> carrier(std::size_t count, const std::function<double(double)>& turns) {
  std::vector<Complex> c(count);
  for (std::size_t n = 0; n < count; ++n) c[n] = std::polar(1.0, turn_rad * turns(static_cast<double>(n)));
  return c;
}

/// A run-up past a single degree of freedom, by the equation of motion of a mass with an unbalance, in steps of Runge
/// and Kutta: x'' + 2ζω x' + ω² x = Ω² cos θ + Ω' sin θ (unit eccentricity). Displacement and velocity over time.
struct RunUp {
  double rate_Hz = 2000.0;
  double seconds = 60.0;
  double begin_Hz = 10.0;
  double end_Hz = 40.0;
  double natural_Hz = 25.0;
  double damping = 0.03;
  double turns(double t) const { return 0.3 + begin_Hz * t + 0.5 * (end_Hz - begin_Hz) / seconds * t * t; }
  double speed_Hz(double t) const { return begin_Hz + (end_Hz - begin_Hz) * t / seconds; }
  double push(double t) const {
    const double w = turn_rad * speed_Hz(t);
    const double angle = turn_rad * turns(t) - radians(70.0);
    return w * w * std::cos(angle) + turn_rad * (end_Hz - begin_Hz) / seconds * std::sin(angle);
  }
  std::vector<std::vector<double>> channels() const {
    const double w0 = turn_rad * natural_Hz;
    const double h = 1.0 / rate_Hz;
    const auto count = static_cast<std::size_t>(seconds * rate_Hz);
    std::vector<std::vector<double>> all(3, std::vector<double>(count));
    double x = 0.0;
    double v = 0.0;
    const auto accelerate = [&](double t, double at, double speed) {
      return push(t) - 2.0 * damping * w0 * speed - w0 * w0 * at;
    };
    for (std::size_t n = 0; n < count; ++n) {
      const double t = static_cast<double>(n) * h;
      all[0][n] = x;
      all[1][n] = v;
      const double place = turns(t) - std::floor(turns(t));
      all[2][n] = std::clamp((place < 0.5 ? 0.08 - place : place - 0.92) * 60.0, -0.5, 0.5);
      const double k1x = v, k1v = accelerate(t, x, v);
      const double k2x = v + 0.5 * h * k1v, k2v = accelerate(t + 0.5 * h, x + 0.5 * h * k1x, v + 0.5 * h * k1v);
      const double k3x = v + 0.5 * h * k2v, k3v = accelerate(t + 0.5 * h, x + 0.5 * h * k2x, v + 0.5 * h * k2v);
      const double k4x = v + h * k3v, k4v = accelerate(t + h, x + h * k3x, v + h * k3v);
      x += h / 6.0 * (k1x + 2.0 * k2x + 2.0 * k3x + k4x);
      v += h / 6.0 * (k1v + 2.0 * k2v + 2.0 * k3v + k4v);
    }
    return all;
  }
  Rig rig() const {
    Rig rig;
    rig.sensors.push_back({"A", 1, {Motion::displacement, 1.0}, 1.0});
    rig.sensors.push_back({"B", 2, {Motion::velocity, 1.0}, 1.0});
    rig.tach.channel = 3;
    return rig;
  }
};

}  // namespace

TEST_CASE("the passband of the Vold-Kalman filter is 3 dB down where Tuma's formula says") {
  // Tůma (2005), formulas for one, two and three poles (from memory); a tone off the order by the bandwidth comes
  // through at 1/√2
  const std::size_t count = 4000;
  for (int poles = 1; poles <= 3; ++poles) {
    for (const double bandwidth : {0.02, 0.05, 0.1}) {
      const auto order = carrier(count, [](double n) { return 0.11 * n; });
      std::vector<double> y(count);
      for (std::size_t n = 0; n < count; ++n)
        y[n] = 2.0 * std::cos(turn_rad * (0.11 + 0.5 * bandwidth) * static_cast<double>(n));
      const auto x = vold_kalman({y}, {order}, poles, bandwidth)[0][0];
      double mean = 0.0;
      for (std::size_t n = 1000; n < 3000; ++n) mean += std::abs(x[n]) / 2000.0;
      INFO(poles << " poles, bandwidth " << bandwidth);
      CHECK(mean == Approx(std::sqrt(0.5)).epsilon(0.01));  // the mirrored tone at −0.22 comes through at some 1e-3
    }
  }
}

TEST_CASE("the envelopes agree with a sparse solution by SciPy to 1e-8") {
  const std::size_t count = 600;
  const auto a = carrier(count, [](double n) { return 0.02 * n + 1e-5 * n * n; });
  const auto b = carrier(count, [](double n) { return 0.05 * n + 0.3; });
  std::vector<double> y(count);
  for (std::size_t n = 0; n < count; ++n)
    y[n] = 1.5 * a[n].real() + 0.4 * b[n].imag() + 0.1 * std::sin(static_cast<double>(n * n));
  const test::TemporaryFolder folder;
  for (int poles = 1; poles <= 3; ++poles) {
    const auto x = vold_kalman({y}, {a, b}, poles, 0.05)[0];
    std::string text = fmt::format("{}\n{:.17g}\n", poles, vold_kalman_weight(poles, 0.05));
    for (std::size_t n = 0; n < count; ++n) {
      text += fmt::format("{:.17g} {:.17g} {:.17g} {:.17g} {:.17g} {:.17g} {:.17g} {:.17g} {:.17g}\n", y[n],
                          a[n].real(), a[n].imag(), b[n].real(), b[n].imag(), x[0][n].real(), x[0][n].imag(),
                          x[1][n].real(), x[1][n].imag());
    }
    const auto file = test::write_file(folder / "case.txt", text);
    const std::string command = "/usr/bin/python3 '" +
                                test::source_file("tests/tracking/vold_kalman_reference.py").string() + "' '" +
                                file.string() + "'";
    INFO(command);
    CHECK(std::system(command.c_str()) == 0);
  }
}

TEST_CASE("two crossing orders come apart") {
  const std::size_t count = 6000;
  const auto rising =
      carrier(count, [](double n) { return 0.02 * n + 0.5 * 1e-5 * n * n; });   // 0.02 to 0.08 cycles a sample
  const auto steady = carrier(count, [](double n) { return 0.05 * n + 0.2; });  // crossed in the middle
  std::vector<double> y(count);
  for (std::size_t n = 0; n < count; ++n)
    y[n] = 2.0 * 1.0 * rising[n].real() + 2.0 * 0.6 * (steady[n] * std::polar(1.0, 0.7)).real();
  const auto x = vold_kalman({y}, {rising, steady}, 2, 0.004)[0];
  for (std::size_t n = 1000; n < 5000; ++n) {
    REQUIRE(std::abs(x[0][n] - 1.0) < 0.03);
    REQUIRE(std::abs(x[1][n] - std::polar(0.6, 0.7)) < 0.03);
  }
  // one at a time they disturb each other where they cross
  const auto alone = vold_kalman({y}, {rising}, 2, 0.004)[0][0];
  double worst = 0.0;
  for (std::size_t n = 2500; n < 3500; ++n) worst = std::max(worst, std::abs(alone[n] - 1.0));
  CHECK(worst > 0.2);
}

TEST_CASE("critical speed and damping of a simulated run-up are found within half a percent and five percent") {
  // slow enough for the resonance to follow: a tenth of (ζω)² at most
  for (const double damping : {0.03, 0.05}) {
    RunUp run;
    run.seconds = 150.0;
    run.rate_Hz = 1000.0;
    run.damping = damping;
    MemoryRecording recording(run.rate_Hz, run.channels());
    for (const SweepMethod method : {SweepMethod::vold_kalman, SweepMethod::per_turn}) {
      SweepOptions options;
      options.method = method;
      recording.rewind();
      const Sweep result = sweep(recording, run.rig(), options);
      REQUIRE(result.critical.size() == 2);
      for (const CriticalSpeed& critical : result.critical) {
        INFO("sensor " << critical.sensor << ", damping " << damping << ": " << critical.damping_ratio << ", circle "
                       << critical.circle_damping_ratio);
        CHECK(critical.speed_rad_s == Approx(turn_rad * run.natural_Hz).epsilon(0.005));
        CHECK(critical.damping_ratio == Approx(damping).epsilon(0.05));
        CHECK(critical.u_speed_rad_s > 0.0);
        CHECK(critical.circle_speed_rad_s == Approx(turn_rad * run.natural_Hz).epsilon(0.005));
        CHECK(critical.circle_damping_ratio == Approx(damping).epsilon(0.05));
      }
      CHECK(result.advice.size() == 2);
    }
  }
}

TEST_CASE("a fit to exact vectors gives back what they were made from, in every motion") {
  const double natural = 150.0;
  const double damping = 0.04;
  for (const Motion motion : {Motion::displacement, Motion::velocity, Motion::acceleration}) {
    std::vector<double> speeds;
    std::vector<Phasor> vectors;
    for (int i = 0; i < 200; ++i) {
      const double w = 60.0 + i;
      Phasor z = std::polar(2.0, 0.4) * w * w / Phasor(natural * natural - w * w, -2.0 * damping * natural * w);
      for (int d = 0; d < (motion == Motion::displacement ? 0 : motion == Motion::velocity ? 1 : 2); ++d)
        z *= Phasor(0.0, -w);
      speeds.push_back(w);
      vectors.push_back(z);
    }
    const auto found = fit_critical_speed(speeds, vectors, motion);
    REQUIRE(found);
    CHECK(found->speed_rad_s == Approx(natural).epsilon(1e-6));
    CHECK(found->damping_ratio == Approx(damping).epsilon(1e-5));
    CHECK(found->circle_speed_rad_s == Approx(natural).epsilon(1e-6));
    CHECK(found->circle_damping_ratio == Approx(damping).epsilon(1e-5));
  }
}

TEST_CASE("without a resonance no critical speed is claimed") {
  std::vector<double> speeds;
  std::vector<Phasor> vectors;
  for (int i = 0; i < 200; ++i) {
    speeds.push_back(60.0 + i);
    vectors.push_back(std::polar(1e-3 * speeds.back() * speeds.back(), 0.4));
  }
  CHECK_FALSE(fit_critical_speed(speeds, vectors, Motion::displacement));
}

TEST_CASE("a long sweep is solved in stretches, and their seams do not show") {
  SyntheticSpin spin;
  spin.rate_Hz = 1500.0;  // down to 38 samples a turn at the fast end
  spin.seconds = 60.0;
  spin.speed_Hz = 10.0;
  spin.acceleration_Hz_per_s = 0.5;
  spin.pulse_widths_turn = {0.15};
  spin.sensors = {{{1, 1.0, 50.0}, {2, 0.5, 120.0}}};
  SweepOptions options;
  options.orders = {1, 2};
  const SweepMethod method = GENERATE(SweepMethod::vold_kalman, SweepMethod::per_turn);
  options.method = method;
  MemoryRecording recording = spin.recording();
  const Sweep result = sweep(recording, spin.rig(), options);
  CHECK(result.points.size() > 1400);
  // within a turn the true angle bulges from the straight line by up to 0.5/8·0.1² turns at the slow end: 0.4 % of
  // order 1
  const double bulge = 0.005;
  for (std::size_t i = 20; i + 20 < result.points.size(); ++i) {
    REQUIRE(std::abs(result.points[i].vectors[0][0] - phasor_at(1.0, radians(50.0))) < 3.0 * bulge);
    REQUIRE(std::abs(result.points[i].vectors[0][1] - phasor_at(0.5, radians(120.0))) < 6.0 * bulge);
  }
}

TEST_CASE("slow-roll run-out is taken off") {
  SyntheticSpin spin;
  spin.speed_Hz = 5.0;
  spin.acceleration_Hz_per_s = 0.5;
  spin.seconds = 20.0;
  SweepOptions options;
  options.method = SweepMethod::per_turn;
  options.slow_roll_below_rad_s = turn_rad * 8.0;
  MemoryRecording recording = spin.recording();
  const Sweep result = sweep(recording, spin.rig(), options);  // nothing but run-out: nothing must be left
  CHECK(std::abs(result.points.back().vectors[0][0]) < 0.02);  // the angle bulges by 0.0025 turns at 5 Hz
  options.slow_roll_below_rad_s = 1.0;
  recording.rewind();
  CHECK_THROWS_AS(sweep(recording, spin.rig(), options), Error);
}
