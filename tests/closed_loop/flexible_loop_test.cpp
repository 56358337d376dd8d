// A shaft that bends within its speed range, on the simulated rig: three planes and several speeds bring it through its
// critical speed; two planes at one speed do not. And a shaft of two pieces with a centre support.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/solution.hpp"
#include "rigsim/flexible.hpp"
#include "rigsim/random.hpp"

using namespace counterspot;

namespace {

constexpr double length_m = 2.4;
constexpr double setting_error = 0.01;  // of mass, and in rad of angle, one standard deviation

/// A 3 in tube of 2.4 m on hard pedestals.
rigsim::FlexibleTruth long_shaft(rigsim::Random& random) {
  rigsim::FlexibleTruth truth;
  truth.beam.sections = {{0.0, length_m, 0.0762, 0.072, material_named("steel")}};
  truth.beam.masses = {{0.0, 9.0, 0.0, 0.0}, {length_m, 9.0, 0.0, 0.0}};
  truth.beam.supports = {{0.0, 2e7}, {length_m, 2e7}};
  truth.sensors_m = {0.0, 0.5 * length_m, length_m};
  for (int i = 0; i < 9; ++i) {
    const double position_m = (0.05 + 0.1125 * i) * length_m;
    truth.slices.push_back({position_m, std::polar(120e-6 * std::abs(random.normal()), random.direction_rad())});
  }
  truth.slices.push_back({0.45 * length_m, std::polar(900e-6, random.direction_rad())});
  return truth;
}

Shaft shaft_of(const std::vector<double>& positions_m, double service_rad_s) {
  Shaft shaft;
  shaft.id = "long";
  shaft.mass_kg = 12.0;
  shaft.service_speed_rad_s = service_rad_s;
  shaft.grade = "G16";
  shaft.tube = Tube{0.0762, 0.0021, length_m};
  shaft.supports = Supports{0.0, length_m, {}};
  for (std::size_t p = 0; p < positions_m.size(); ++p)
    shaft.planes.push_back({std::string(1, static_cast<char>('A' + p)), positions_m[p], 0.04});
  return shaft;
}

/// A shaft on the rig with an operator who weighs and sets as well as one does.
class Bench {
 public:
  Bench(const rigsim::FlexibleTruth& truth, Shaft shaft, std::vector<double> speeds_rad_s, std::uint64_t seed)
      : rig_truth_(truth), shaft_(std::move(shaft)), speeds_(std::move(speeds_rad_s)), random_(seed, 300) {
    const auto sensors = static_cast<int>(truth.sensors_m.size());
    for (int s = 0; s < sensors; ++s) rig_.sensors.push_back({fmt::format("S{}", s + 1), s + 1, {}, 1.0});
    rig_.setting = {setting_error, setting_error};
  }

  void fit(int plane, const Phasor& wanted_kg_m) {
    const Plane& at = shaft_.planes[static_cast<std::size_t>(plane)];
    stated_.push_back({plane, std::abs(wanted_kg_m) / at.radius_m, at.radius_m, std::arg(wanted_kg_m)});
    const Phasor error(1.0 + setting_error * random_.normal(), setting_error * random_.normal());
    real_.push_back({at.position_m, wanted_kg_m * error});
  }
  void take_off() {
    stated_.clear();
    real_.clear();
  }

  /// One spin at every speed, with noise of half a percent of the reading.
  void spin() {
    for (double speed : speeds_) {
      SpinReading reading{"spin", stated_, {}, {}, speed};
      for (Phasor z : rig_truth_.steady_vectors(real_, speed)) {
        const double u = 0.005 * std::abs(z) + 1e-4;
        reading.vectors.push_back(z + u * Phasor(random_.normal(), random_.normal()));
        reading.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
      }
      readings_.push_back(reading);
    }
  }

  /// As found, a trial at each plane, a correction and a spin, twice.
  Solution balance(double trial_kg_m) {
    spin();
    for (std::size_t p = 0; p < shaft_.planes.size(); ++p) {
      take_off();
      fit(static_cast<int>(p), std::polar(trial_kg_m, random_.direction_rad()));
      spin();
    }
    take_off();
    for (int round = 0; round < 2; ++round) {
      const Solution now = solve();
      for (std::size_t p = 0; p < shaft_.planes.size(); ++p) {
        const PlaneUnbalance& plane = now.influence.planes[p];
        fit(static_cast<int>(p), round == 0 ? -plane.as_found_kg_m : plane.correction_kg_m);
      }
      spin();
    }
    return solve();
  }

  Solution solve() const {
    return solve_readings(rig_, shaft_, readings_, std::vector<Motion>(rig_.sensors.size(), Motion::acceleration));
  }

  /// The largest true displacement at any sensor over a range of speeds, m.
  double worst_m(double from_rad_s, double to_rad_s, bool as_found = false) const {
    double worst = 0.0;
    for (int i = 0; i <= 200; ++i) {
      const double speed = from_rad_s + (to_rad_s - from_rad_s) * i / 200.0;
      for (const Phasor& z : rig_truth_.steady_vectors(as_found ? std::vector<rigsim::UnbalanceSlice>{} : real_, speed))
        worst = std::max(worst, std::abs(z) / (speed * speed));
    }
    return worst;
  }

 private:
  rigsim::FlexibleRig rig_truth_;
  Rig rig_;
  Shaft shaft_;
  std::vector<double> speeds_;
  rigsim::Random random_;
  std::vector<FittedWeight> stated_;
  std::vector<rigsim::UnbalanceSlice> real_;
  std::vector<SpinReading> readings_;
};

bool warned(const Solution& solution, WarningCode code) {
  return std::any_of(solution.warnings.begin(), solution.warnings.end(),
                     [&](const Warning& warning) { return warning.code == code; });
}

}  // namespace

TEST_CASE(
    "three planes and three speeds bring a long shaft through its critical speed; two planes at one speed do not") {
  for (std::uint64_t seed : {1U, 2U, 3U, 4U}) {
    rigsim::Random random(seed, 301);
    const rigsim::FlexibleTruth truth = long_shaft(random);
    const double critical = rigsim::FlexibleRig(truth).mode_rad_s(0);
    const double top = 1.3 * critical;
    Bench three(truth, shaft_of({0.1, 1.2, 2.3}, top), {0.5 * critical, 0.9 * critical, top}, seed);
    Bench two(truth, shaft_of({0.1, 2.3}, top), {0.5 * critical}, seed);
    const Solution of_three = three.balance(400e-6);
    const Solution of_two = two.balance(400e-6);
    const double before = three.worst_m(0.3 * critical, top, true);
    const double after_three = three.worst_m(0.3 * critical, top);
    const double after_two = two.worst_m(0.3 * critical, top);
    fmt::print(
        "long shaft {}: worst over the speed range {:.0f} um as found, {:.1f} um with three planes, {:.0f} um "
        "with two at one speed\n",
        seed, 1e6 * before, 1e6 * after_three, 1e6 * after_two);
    CHECK(after_three < before / 20.0);
    CHECK(after_two > before / 4.0);
    CHECK(of_three.influence.speeds.size() == 3);
    REQUIRE_FALSE(of_three.modes.empty());
    CHECK_FALSE(warned(of_three, WarningCode::flexible_shaft));
    CHECK(of_three.judgement.verdict == Verdict::within);
    CHECK(warned(of_two, WarningCode::flexible_shaft));
    CHECK(of_two.judgement.verdict != Verdict::within);
  }
}

TEST_CASE("a shaft of two pieces with a centre support is balanced in four planes with three sensors at two speeds") {
  rigsim::Random random(7, 302);
  rigsim::FlexibleTruth truth;
  BeamSection tube{0.0, 1.18, 0.0762, 0.072, material_named("steel")};
  BeamSection joint{1.18, 1.22, 0.0762, 0.072, material_named("steel"), 1e-3};
  BeamSection other{1.22, 2.4, 0.0762, 0.072, material_named("steel")};
  truth.beam.sections = {tube, joint, other};
  truth.beam.masses = {{0.0, 9.0, 0.0, 0.0}, {1.16, 5.0, 0.0, 0.0}, {2.4, 9.0, 0.0, 0.0}};
  truth.beam.supports = {{0.0, 4e6}, {1.16, 3e6}, {2.4, 4e6}};
  truth.sensors_m = {0.0, 1.16, 2.4};
  for (double position_m : {0.08, 0.5, 1.1, 1.3, 1.9, 2.3})
    truth.slices.push_back({position_m, std::polar(random.uniform(200e-6, 900e-6), random.direction_rad())});
  Shaft shaft = shaft_of({0.08, 1.1, 1.3, 2.3}, rad_per_s(3000.0));
  shaft.supports = Supports{0.0, 2.4, {}, 1.16};
  Bench bench(truth, shaft, {rad_per_s(1200.0), rad_per_s(2400.0)}, 7);
  const Solution solution = bench.balance(400e-6);
  const double before = bench.worst_m(rad_per_s(600.0), rad_per_s(3000.0), true);
  const double after = bench.worst_m(rad_per_s(600.0), rad_per_s(3000.0));
  fmt::print("two pieces: worst over the speed range {:.1f} um as found, {:.2f} um balanced\n", 1e6 * before,
             1e6 * after);
  CHECK(after < before / 5.0);
  REQUIRE(solution.judgement.held.size() >= 3);
  CHECK(solution.judgement.held[1].place == "support C");
}
