// The whole job in the simulated rig: as found, two trials, one correction as a person fits it, one more spin.
#include <fmt/format.h>

#include <Eigen/LU>
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/files.hpp"
#include "counterspot/solution.hpp"
#include "counterspot/tracking.hpp"
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

constexpr double mass_error = 0.02;               // of a piece, one standard deviation
constexpr double angle_error_rad = radians(1.5);  // of its position, one standard deviation
constexpr double spin_s = 4.0;

/// Two weights, one a plane, as the operator states them and as they really are.
struct Fitted {
  std::vector<FittedWeight> stated;
  std::vector<rigsim::UnbalanceSlice> real;
};

void fit(Fitted& fitted, const rigsim::Scenario& scenario, int plane, const Phasor& wanted_kg_m,
         rigsim::Random& random) {
  const rigsim::PlaneTruth& place = scenario.planes[static_cast<std::size_t>(plane)];
  FittedWeight stated{plane, std::abs(wanted_kg_m) / place.radius_m, place.radius_m, std::arg(wanted_kg_m)};
  double mass_kg = stated.mass_kg * (1.0 + mass_error * random.normal());
  double angle_rad = stated.angle_rad + angle_error_rad * random.normal();
  fitted.stated.push_back(stated);
  fitted.real.push_back(rigsim::piece_at(place, mass_kg, angle_rad));
}

/// The files of the shaft as a person wrote them, read again as the program reads them.
struct Bench {
  explicit Bench(const rigsim::Scenario& truth) : scenario(truth) {
    TemporaryFolder folder;
    rig = read_rig(write_file(folder / "rig.toml", rigsim::rig_toml(scenario)));
    shaft = read_shaft(write_file(folder / "shaft.toml", rigsim::shaft_toml(scenario)));
    rig.setting = {mass_error, angle_error_rad};
  }

  void spin(const std::string& label, const Fitted& fitted, std::uint64_t seed) {
    rigsim::SpinTruth truth = rigsim::steady_spin(scenario, spin_s, seed);
    truth.fitted = fitted.real;
    rigsim::Recorded recorded = rigsim::simulate(scenario.rig, scenario.shaft, truth);
    std::vector<std::vector<double>> channels;
    for (auto& channel : recorded.channels) channels.push_back(std::move(channel.volts));
    MemoryRecording recording(recorded.sample_rate_Hz, channels);
    Track measured = track(recording, rig);
    SpinReading reading{label, fitted.stated, {}, {}, measured.speed_rad_s};
    for (const SensorTrack& sensor : measured.sensors) {
      reading.vectors.push_back(sensor.orders.front().value);
      reading.covariances.push_back(sensor.orders.front().covariance);
    }
    readings.push_back(reading);
  }

  Solution solve() const { return solve_readings(rig, shaft, readings, {Motion::acceleration, Motion::acceleration}); }

  rigsim::Scenario scenario;
  Rig rig;
  Shaft shaft;
  std::vector<SpinReading> readings;
};

/// What came of one shaft at one plane.
struct Outcome {
  double times_limit = 0.0;  ///< true residual over the limit, as the supports feel it at balancing speed
  double rigid_times_limit = 0.0;
  double miss_over_u = 0.0;  ///< (reported − true magnitude) / stated uncertainty
  double vector_chi_squared = 0.0;
};

std::array<Outcome, 2> balance_one(std::uint64_t seed, double as_found_times_limit) {
  Bench bench(rigsim::random_scenario(seed, as_found_times_limit));
  const rigsim::Scenario& scenario = bench.scenario;
  rigsim::Random random(seed, 100);
  // A trial weight that changes the reading by about 30 % (common practice), and is itself well over the limit.
  const double trial_kg_m = std::max(3.0, 0.3 * as_found_times_limit) * 0.5 * rigsim::g16_total_kg_m(scenario);
  bench.spin("as found", {}, 10 * seed);
  for (int plane : {0, 1}) {
    Fitted trial;
    fit(trial, scenario, plane, std::polar(trial_kg_m, random.direction_rad()), random);
    bench.spin("trial", trial, 10 * seed + 1 + static_cast<std::uint64_t>(plane));
  }
  Solution before = bench.solve();
  Fitted correction;
  for (int plane : {0, 1}) {
    fit(correction, scenario, plane, -before.influence.planes[static_cast<std::size_t>(plane)].as_found_kg_m, random);
  }
  bench.spin("corrected", correction, 10 * seed + 5);
  Solution after = bench.solve();

  const auto positions = scenario.plane_positions_m();
  auto felt = rigsim::equivalent_at_speed(scenario.rig, scenario.shaft, correction.real, positions,
                                          *bench.readings.back().speed_rad_s);
  auto rigid = rigsim::rigid_equivalent(scenario.shaft, correction.real, positions);
  std::array<Outcome, 2> outcomes;
  for (std::size_t p = 0; p < 2; ++p) {
    const PlaneSolution& plane = after.planes[p];
    Phasor miss = plane.residual_kg_m - felt[p];
    Eigen::Vector2d parts(miss.real(), miss.imag());
    outcomes[p] = {std::abs(felt[p]) / *plane.limit_kg_m, std::abs(rigid[p]) / *plane.limit_kg_m,
                   (std::abs(plane.residual_kg_m) - std::abs(felt[p])) / plane.u_residual_kg_m,
                   parts.dot(plane.residual_covariance.inverse() * parts)};
  }
  return outcomes;
}

struct Tally {
  int shafts = 0, within = 0, rigid_within = 0;
  int planes = 0, in_interval = 0, in_ellipse = 0;

  void add(const std::array<Outcome, 2>& outcomes) {
    ++shafts;
    within += outcomes[0].times_limit <= 1.0 && outcomes[1].times_limit <= 1.0;
    rigid_within += outcomes[0].rigid_times_limit <= 1.0 && outcomes[1].rigid_times_limit <= 1.0;
    for (const Outcome& outcome : outcomes) {
      ++planes;
      in_interval += std::abs(outcome.miss_over_u) <= 1.959964;
      in_ellipse += outcome.vector_chi_squared <= 5.991465;  // 95 % of chi-squared with two degrees of freedom
    }
  }
  static double percent(int part, int whole) { return 100.0 * part / whole; }
  void print(const char* what) const {
    fmt::print(
        "{}: {} shafts, within {:.1f} % (as rigid shafts {:.1f} %), truth inside the 95 % interval {:.1f} %, "
        "inside the 95 % ellipse {:.1f} % of {} planes\n",
        what, shafts, percent(within, shafts), percent(rigid_within, shafts), percent(in_interval, planes),
        percent(in_ellipse, planes), planes);
  }
};

Tally balance_many(int count, double least_times, double most_times) {
  Tally tally;
  for (int i = 0; i < count; ++i) {
    double times = least_times + (most_times - least_times) * (i + 0.5) / count;
    INFO("shaft " << 1000 + i << ", " << times << " times its limit as found");
    tally.add(balance_one(1000 + static_cast<std::uint64_t>(i), times));
  }
  return tally;
}

}  // namespace

TEST_CASE("closed loop probe", "[.probe]") {
  for (auto [from, to] : {std::pair{2.0, 5.0}, {5.0, 10.0}, {10.0, 15.0}, {15.0, 20.0}, {20.0, 30.0}, {30.0, 40.0}}) {
    balance_many(200, from, to).print(fmt::format("{}-{}", from, to).c_str());
  }
}

TEST_CASE("200 shafts: one correction brings them within their limit, and the stated residual holds the truth") {
  Tally tally = balance_many(200, 2.0, 10.0);
  tally.print("200 random shafts");
  CHECK(Tally::percent(tally.within, tally.shafts) >= 97.0);
  CHECK(Tally::percent(tally.in_interval, tally.planes) >= 92.0);
  CHECK(Tally::percent(tally.in_interval, tally.planes) <= 98.0);
}
