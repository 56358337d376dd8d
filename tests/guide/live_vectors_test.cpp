// What the faces show while the shaft turns, held against the simulated rig's truth: a ± holds 95 % there too.
#include <fmt/format.h>

#include <Eigen/LU>
#include <catch2/catch.hpp>
#include <cstdio>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/live_vectors.hpp"
#include "counterspot/units/angle.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"
#include "tracking/memory_recording.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double chi_squared_95 = 5.991;  // two degrees of freedom, as tables of the distribution have it
constexpr double spin_s = 4.0;
constexpr double apart_s = 0.5;  // windows that share no turn

/// How often the ellipse held the truth.
struct Inside {
  int within = 0;
  int all = 0;

  void add(const Phasor& shown, const Eigen::Matrix2d& covariance, const Phasor& truth) {
    const Eigen::Vector2d miss(shown.real() - truth.real(), shown.imag() - truth.imag());
    ++all;
    if (miss.dot(covariance.inverse() * miss) <= chi_squared_95) ++within;
  }
  double share() const { return static_cast<double>(within) / all; }
};

/// A rig and a shaft of the trade, spun as a job would.
class LiveRig {
 public:
  explicit LiveRig(std::uint64_t seed)
      : scenario_(rigsim::random_scenario(seed, 6.0)), random_(seed, 300), seed_(seed) {
    const TemporaryFolder folder;
    job_.rig = read_rig(write_file(folder / "rig.toml", rigsim::rig_toml(scenario_)));
    job_.shaft = read_shaft(write_file(folder / "shaft.toml", rigsim::shaft_toml(scenario_)));
    job_.motions.assign(2, Motion::acceleration);
  }

  /// Fits a trial weight as an operator does: 1 % of mass and 1 deg off, as the rig file states.
  void fit_trial(std::size_t plane) {
    const rigsim::PlaneTruth& place = scenario_.planes[plane];
    const double kg = 1.5 * rigsim::g16_total_kg_m(scenario_) / place.radius_m;
    const double angle_rad = random_.direction_rad();
    job_.on_shaft.push_back({static_cast<int>(plane), kg, place.radius_m, angle_rad});
    real_.push_back(
        rigsim::piece_at(place, kg * (1.0 + 0.01 * random_.normal()), angle_rad + radians(1.0) * random_.normal()));
  }

  void measure_spin() {
    MemoryRecording recording = recorded();
    const Track measured = track(recording, job_.rig);
    SpinReading spin{"spin", job_.on_shaft, {}, {}, measured.speed_rad_s};
    for (const SensorTrack& sensor : measured.sensors) {
      spin.vectors.push_back(sensor.orders.front().value);
      spin.covariances.push_back(sensor.orders.front().covariance);
    }
    job_.spins.push_back(spin);
  }
  /// As found, a trial in one plane and one in the other; then the solution.
  void solve_with_trials() {
    measure_spin();
    for (const std::size_t plane : {0U, 1U}) {
      fit_trial(plane);
      measure_spin();
    }
    job_.solution = solve_readings(job_.rig, job_.shaft, job_.spins, job_.motions, job_.solved_with);
  }

  void lose_the_last_weight() { real_.pop_back(); }  ///< nobody says so

  /// A further spin as a live source gives it.
  void follow_spin(const std::function<void(const LiveReading&)>& on_reading) {
    MemoryRecording recording = recorded();
    ShaftWatch watch(recording.info(), job_.rig);
    double next_s = 1.0;
    follow(recording, job_.rig, watch, [&](const LiveReading& reading) {
      if (reading.at_s < next_s || reading.sensors.empty()) return;
      next_s = reading.at_s + apart_s;
      on_reading(reading);
    });
  }

  std::vector<Phasor> true_vectors(double speed_rad_s) const {
    return rigsim::steady_vectors(scenario_.rig, scenario_.shaft, real_, speed_rad_s);
  }
  std::array<Phasor, 2> true_unbalance(double speed_rad_s) const {
    return rigsim::equivalent_at_speed(scenario_.rig, scenario_.shaft, real_, scenario_.plane_positions_m(),
                                       speed_rad_s);
  }
  const LiveJob& job() const { return job_; }

 private:
  MemoryRecording recorded() {
    rigsim::SpinTruth spin = rigsim::steady_spin(scenario_, spin_s, 100 * seed_ + ++count_);
    spin.fitted = real_;
    rigsim::Recorded made = rigsim::simulate(scenario_.rig, scenario_.shaft, spin);
    std::vector<std::vector<double>> channels;
    for (auto& channel : made.channels) channels.push_back(std::move(channel.volts));
    return {made.sample_rate_Hz, channels};
  }

  rigsim::Scenario scenario_;
  rigsim::Random random_;
  std::uint64_t seed_;
  std::uint64_t count_ = 0;
  LiveJob job_;
  std::vector<rigsim::UnbalanceSlice> real_;
};

}  // namespace

TEST_CASE("the ellipse of a sensor's live vector holds the truth in 95 of 100 cases", "[long]") {
  Inside held;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    LiveRig rig(seed);
    rig.follow_spin([&](const LiveReading& reading) {
      const std::vector<Phasor> truth = rig.true_vectors(reading.speed_rad_s);
      const std::vector<LiveVector> shown = live_vectors(rig.job(), reading);
      REQUIRE(shown.size() == truth.size());
      for (std::size_t s = 0; s < truth.size(); ++s) held.add(shown[s].value, shown[s].covariance, truth[s]);
    });
  }
  std::printf("live vectors at sensors: %d of %d within their ellipse\n", held.within, held.all);
  CHECK(held.all > 500);
  CHECK(held.share() > 0.94);
}

TEST_CASE("the ellipse of the live residual holds the truth in 95 of 100 cases", "[long]") {
  Inside held;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    LiveRig rig(seed);
    rig.solve_with_trials();
    rig.follow_spin([&](const LiveReading& reading) {
      const std::vector<LiveVector> shown = live_vectors(rig.job(), reading);
      const std::array<Phasor, 2> truth = rig.true_unbalance(reading.speed_rad_s);
      REQUIRE(shown.size() == 2);
      for (std::size_t p = 0; p < 2; ++p) held.add(shown[p].value, shown[p].covariance, truth[p]);
    });
  }
  std::printf("live residuals: %d of %d within their ellipse\n", held.within, held.all);
  CHECK(held.all > 500);
  CHECK(held.share() > 0.91);  // readings of one rig share their coefficients: 120 cases, and two standard deviations
}

TEST_CASE("at a speed at which the coefficients do not hold no residual is shown") {
  LiveRig rig(3);
  rig.solve_with_trials();
  int shown = 0;
  rig.follow_spin([&](LiveReading reading) {
    if (!live_vectors(rig.job(), reading).empty()) ++shown;
    reading.speed_rad_s *= 1.1;
    CHECK(live_vectors(rig.job(), reading).empty());
  });
  CHECK(shown > 0);
}

TEST_CASE("with the same weights stated as before, what is shown is the shaft of now and not of the last spin") {
  Inside held;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    LiveRig rig(seed);
    rig.solve_with_trials();
    rig.lose_the_last_weight();
    rig.follow_spin([&](const LiveReading& reading) {
      const std::vector<LiveVector> shown = live_vectors(rig.job(), reading);
      const std::array<Phasor, 2> truth = rig.true_unbalance(reading.speed_rad_s);
      for (std::size_t p = 0; p < shown.size(); ++p) held.add(shown[p].value, shown[p].covariance, truth[p]);
    });
  }
  std::printf("live residuals of a weight that came off unsaid: %d of %d within\n", held.within, held.all);
  CHECK(held.all > 100);
  CHECK(held.share() > 0.85);  // 40 independent cases, and two standard deviations
}
