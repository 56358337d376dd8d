#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "says.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using counterspot::test::MemoryRecording;
using counterspot::test::says;
using counterspot::test::SyntheticSpin;

namespace {

/// A spin whose speed hunts by a sine, with a vector that follows the speed: Z = Z0·(1 + s·δ), δ = Ω/Ω̄ − 1.
struct HuntingSpin {
  double rate_Hz = 2000.0;
  double seconds = 8.0;
  double speed_Hz = 25.0;
  double hunting = 0.002;  ///< amplitude over mean
  double hunting_Hz = 0.5;
  Phasor steepness;  ///< s
  double noise = 0.01;
  double lag_rad = radians(50.0);

  double turns(double t) const {
    const double w = turn_rad * hunting_Hz;
    return 0.3 + speed_Hz * (t + hunting / w * (1.0 - std::cos(w * t)));
  }
  Track measure() const {
    const auto count = static_cast<std::size_t>(seconds * rate_Hz);
    std::vector<std::vector<double>> channels(2, std::vector<double>(count));
    std::mt19937 generator(5);
    std::normal_distribution<double> normal;
    for (std::size_t n = 0; n < count; ++n) {
      const double t = static_cast<double>(n) / rate_Hz;
      const double departure = hunting * std::sin(turn_rad * hunting_Hz * t);
      const Phasor z = phasor_at(1.0, lag_rad) * (1.0 + steepness * departure);
      channels[0][n] = (z * std::polar(1.0, -turn_rad * turns(t))).real() + noise * normal(generator);
      const double place = turns(t) - std::floor(turns(t));
      channels[1][n] = std::clamp((place < 0.5 ? 0.1 - place : place - 0.9) * 30.0, -0.5, 0.5);
    }
    MemoryRecording recording(rate_Hz, channels);
    Rig rig;
    rig.sensors.push_back({"A", 1, {Motion::displacement, 1.0}, 1.0});
    rig.tach.channel = 2;
    return track(recording, rig);
  }
};

}  // namespace

TEST_CASE("the slope of the response is measured from the hunting of the speed, and near a resonance it is said") {
  HuntingSpin spin;
  spin.steepness = {-6.0, 15.0};
  const Track measured = spin.measure();
  CHECK(measured.speed_scatter_fraction == Approx(spin.hunting / std::sqrt(2.0)).epsilon(0.05));
  const OrderVector& vector = measured.sensors[0].orders[0];
  REQUIRE(vector.slope.measured);
  const Phasor steepness = vector.slope.per_rad_s * measured.speed_rad_s / vector.value;
  const double u = vector.slope.u_per_rad_s * measured.speed_rad_s / vector.amplitude();
  CHECK(u < 0.5);
  CHECK(std::abs(steepness - spin.steepness) < 4.0 * u);
  CHECK(says(measured, WarningCode::near_resonance));
}

TEST_CASE("away from a resonance nothing is said, and a speed that hardly hunts leaves the slope to the model") {
  HuntingSpin spin;
  spin.steepness = {2.0, 0.3};
  CHECK_FALSE(says(spin.measure(), WarningCode::near_resonance));
  spin.hunting = 1e-5;
  const Track measured = spin.measure();
  const OrderVector& vector = measured.sensors[0].orders[0];
  CHECK_FALSE(vector.slope.measured);
  // displacement: |Z| ~ Ω^(1 ± 1)
  CHECK(std::abs(vector.slope.per_rad_s * measured.speed_rad_s - vector.value) < 1e-12);
  CHECK(vector.slope.u_per_rad_s * measured.speed_rad_s == Approx(vector.amplitude()));
  CHECK(measured.warnings.empty());
}

TEST_CASE("speed hunting stands in the budget as slope times the uncertainty of the mean speed") {
  HuntingSpin spin;
  spin.steepness = {-6.0, 15.0};
  const Track measured = spin.measure();
  const OrderVector& vector = measured.sensors[0].orders[0];
  REQUIRE(vector.budget.size() == 4);
  const BudgetItem& hunting = vector.budget[2];
  CHECK(hunting.source == "speed hunting, slope measured");
  CHECK_FALSE(hunting.counted);
  const double expected = std::abs(vector.slope.per_rad_s) * measured.speed_rad_s * measured.u_mean_speed_fraction;
  CHECK(std::sqrt(hunting.covariance.trace()) == Approx(expected));
  CHECK(measured.u_mean_speed_fraction > 0.0);
  CHECK(measured.u_mean_speed_fraction <= measured.speed_scatter_fraction);
  // the second order, by hand: ½·2|s|²/|Z|·σ² with |s| = 16.2, σ = 0.00141: 5.2e-4 of the vector
  const BudgetItem& curved = vector.budget[3];
  CHECK(curved.counted);
  CHECK(std::sqrt(curved.covariance.trace()) == Approx(261.0 * 2e-6).epsilon(0.2));
}

TEST_CASE("the slope of a view is that of the motion viewed") {
  // X = Ω²: V = −jΩX changes by −3jΩ²
  OrderVector vector;
  const double speed = 100.0;
  vector.value = speed * speed;
  vector.slope = {2.0 * speed, 1.0, true};
  const OrderVector velocity = view_as(vector, Motion::displacement, Motion::velocity, speed);
  CHECK(std::abs(velocity.slope.per_rad_s - Phasor(0.0, -3.0 * speed * speed)) < 1e-9 * speed * speed);
  const OrderVector back = view_as(velocity, Motion::velocity, Motion::displacement, speed);
  CHECK(std::abs(back.slope.per_rad_s - vector.slope.per_rad_s) < 1e-9);
}

TEST_CASE("orders that are no whole numbers are measured beside those that are, and those do not leak into them") {
  // x = Σ A cos(kθ − φ) with θ = 0 at the recording's first edge
  const double rate_Hz = 2000.0;
  std::vector<std::vector<double>> channels(2, std::vector<double>(12000));
  std::mt19937 generator(6);
  std::normal_distribution<double> normal;
  const auto turns = [](double t) { return 0.37 + 24.3 * t; };
  for (std::size_t n = 0; n < channels[0].size(); ++n) {
    const double at = turns(static_cast<double>(n) / rate_Hz);
    const double angle = turn_rad * (at - 0.9);  // the pulse rises at 0.9
    channels[0][n] = 0.2 * std::cos(0.5 * angle - 0.7) + 2.0 * std::cos(angle - 1.0) + 0.5 * std::cos(2.0 * angle) +
                     0.1 * std::cos(1.47 * angle - 2.0) + 0.02 * normal(generator);
    const double place = at - std::floor(at);
    channels[1][n] = std::clamp((place < 0.5 ? 0.1 - place : place - 0.9) * 30.0 + 0.5, 0.0, 1.0);
  }
  Rig rig;
  rig.sensors.push_back({"A", 1, {Motion::displacement, 1.0}, 1.0});
  rig.tach.channel = 2;
  TrackOptions options;
  options.orders = {2.0, 0.5, 1.47};
  MemoryRecording recording(rate_Hz, channels);
  const Track measured = track(recording, rig, options);
  const auto& orders = measured.sensors[0].orders;
  REQUIRE(orders.size() == 3);
  CHECK(orders[0].order == 0.5);
  CHECK(orders[1].order == 1.47);
  CHECK(orders[2].order == 2.0);
  const std::vector<Phasor> truth = {phasor_at(0.2, 0.7), phasor_at(0.1, 2.0), phasor_at(0.5, 0.0)};
  // the edge of the sampled tach is some 0.001 of a turn off: 0.5 deg of order 1.47
  for (std::size_t i = 0; i < 3; ++i)
    CHECK(std::abs(orders[i].value - truth[i]) < 0.01 * std::abs(truth[i]) + 4.0 * orders[i].u_amplitude());
  CHECK(measured.sensors[0].lines.empty());
  CHECK(orders[0].budget.size() == 4);
}

TEST_CASE("a spin too short for an order is refused, and the sentence says how long it must be") {
  SyntheticSpin spin;
  spin.seconds = 1.0;  // 24 turns
  MemoryRecording recording = spin.recording();
  TrackOptions options;
  options.orders = {1.0, 1.1};
  try {
    track(recording, spin.rig(), options);
    FAIL("24 turns told 1.1 from 1");
  } catch (const Error& error) {
    CHECK(error.code() == "too_short_for_order");
    CHECK_THAT(error.what(), Catch::Contains("40 are needed"));
  }
}
