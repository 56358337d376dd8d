// A shaft that bends within its speed range, on the simulated rig: three planes and several speeds bring it through its
// critical speed; two planes at one speed do not. And a shaft of two pieces with a centre support.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <memory>

#include "counterspot/solve/solution.hpp"
#include "rigsim/flexible.hpp"
#include "rigsim/random.hpp"
#include "says.hpp"

using namespace counterspot;
using counterspot::test::says;

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
      : Bench(std::make_shared<rigsim::FlexibleRig>(truth), truth.sensors_m.size(), {}, std::move(shaft),
              std::move(speeds_rad_s), seed) {}

  /// @param slices of this shaft, beside those of the rig's own.
  Bench(std::shared_ptr<const rigsim::FlexibleRig> rig, std::size_t sensors, std::vector<rigsim::UnbalanceSlice> slices,
        Shaft shaft, std::vector<double> speeds_rad_s, std::uint64_t seed)
      : rig_truth_(std::move(rig)),
        slices_(std::move(slices)),
        shaft_(std::move(shaft)),
        speeds_(std::move(speeds_rad_s)),
        random_(seed, 300) {
    for (int s = 0; s < static_cast<int>(sensors); ++s)
      rig_.sensors.push_back({fmt::format("S{}", s + 1), s + 1, {}, 1.0});
    rig_.setting = {setting_error, setting_error};
  }

  /// What the sensors show without a shaft, m/s²; else a tenth of a mm/s².
  void set_floor(double floor_m_s2) { floor_m_s2_ = floor_m_s2; }

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
      for (Phasor z : rig_truth_->steady_vectors(all_slices(real_), speed)) {
        const double u = 0.005 * std::abs(z) + floor_m_s2_;
        reading.vectors.push_back(z + u * Phasor(random_.normal(), random_.normal()));
        reading.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
      }
      readings_.push_back(reading);
    }
  }

  /// As found, a trial at each plane, and as found again.
  Solution find(double trial_kg_m) {
    spin();
    for (std::size_t p = 0; p < shaft_.planes.size(); ++p) {
      take_off();
      fit(static_cast<int>(p), std::polar(trial_kg_m, random_.direction_rad()));
      spin();
    }
    take_off();
    spin();
    return solve();
  }

  /// The same, then a correction and a spin, twice.
  Solution balance(double trial_kg_m) {
    find(trial_kg_m);
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

  /// The true equivalent modal unbalance with what is fitted now.
  Phasor modal_truth(const BeamSummary& beam, std::size_t mode) const {
    Phasor sum;
    for (const rigsim::UnbalanceSlice& slice : all_slices(real_)) {
      const auto next = std::upper_bound(beam.nodes_m.begin() + 1, beam.nodes_m.end() - 1, slice.position_m);
      const auto i = static_cast<std::size_t>(next - beam.nodes_m.begin());
      const double part = (slice.position_m - beam.nodes_m[i - 1]) / (beam.nodes_m[i] - beam.nodes_m[i - 1]);
      sum += slice.unbalance_kg_m * ((1.0 - part) * beam.modes[mode].shape[i - 1] + part * beam.modes[mode].shape[i]);
    }
    return sum;
  }

  Solution solve() const {
    return solve_readings(rig_, shaft_, readings_, std::vector<Motion>(rig_.sensors.size(), Motion::acceleration));
  }

  /// The largest true displacement at any sensor over a range of speeds, m.
  double worst_m(double from_rad_s, double to_rad_s, bool as_found = false) const {
    double worst = 0.0;
    const std::vector<rigsim::UnbalanceSlice> none;
    for (int i = 0; i <= 200; ++i) {
      const double speed = from_rad_s + (to_rad_s - from_rad_s) * i / 200.0;
      for (const Phasor& z : rig_truth_->steady_vectors(all_slices(as_found ? none : real_), speed))
        worst = std::max(worst, std::abs(z) / (speed * speed));
    }
    return worst;
  }

 private:
  std::vector<rigsim::UnbalanceSlice> all_slices(const std::vector<rigsim::UnbalanceSlice>& fitted) const {
    std::vector<rigsim::UnbalanceSlice> all = slices_;
    all.insert(all.end(), fitted.begin(), fitted.end());
    return all;
  }

  std::shared_ptr<const rigsim::FlexibleRig> rig_truth_;
  std::vector<rigsim::UnbalanceSlice> slices_;
  Rig rig_;
  Shaft shaft_;
  std::vector<double> speeds_;
  rigsim::Random random_;
  double floor_m_s2_ = 1e-4;
  std::vector<FittedWeight> stated_;
  std::vector<rigsim::UnbalanceSlice> real_;
  std::vector<SpinReading> readings_;
};

bool warned(const Solution& solution, WarningCode code) {
  return says(solution, code) || says(solution.judgement.held_back, code);
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
    CHECK(after_two > 4.0 * after_three);
    CHECK(of_three.influence.speeds.size() == 3);
    REQUIRE_FALSE(of_three.modes.empty());
    CHECK_FALSE(warned(of_three, WarningCode::flexible_shaft));
    CHECK(of_three.judgement.verdict == Verdict::within);
    CHECK(warned(of_two, WarningCode::flexible_shaft));
    CHECK(of_two.judgement.verdict != Verdict::within);
  }
}

namespace {

/// The same shaft as its file describes it, and what all shafts of its kind have in common on a rig of two pedestals.
struct Kind {
  Shaft shaft;
  BeamSummary beam;
  std::shared_ptr<const rigsim::FlexibleRig> rig;
};

Kind kind_of_long_shaft(double service_of_critical) {
  rigsim::Random random(1, 303);
  rigsim::FlexibleTruth truth = long_shaft(random);
  truth.slices.clear();
  truth.sensors_m = {0.0, length_m};
  Kind kind;
  kind.shaft = shaft_of({0.1, 1.2, 2.3}, 0.0);
  kind.shaft.sections = truth.beam.sections;
  kind.shaft.masses = truth.beam.masses;
  kind.shaft.bearings = truth.beam.supports;
  kind.beam = *bending_of(kind.shaft);
  kind.shaft.service_speed_rad_s = service_of_critical * *first_critical_rad_s(kind.beam);
  kind.rig = std::make_shared<rigsim::FlexibleRig>(truth);
  return kind;
}

/// Unbalance spread along the shaft in ten places.
std::vector<rigsim::UnbalanceSlice> spread(rigsim::Random& random) {
  std::vector<rigsim::UnbalanceSlice> slices;
  for (int i = 0; i < 10; ++i) {
    const Phasor unbalance(250e-6 * random.normal(), 250e-6 * random.normal());
    slices.push_back({(0.05 + 0.1 * i) * length_m, unbalance});
  }
  return slices;
}

struct Coverage {
  int sets = 0;
  int held_as_found = 0;
  int held_balanced = 0;
  int within = 0;
  int falsely_within = 0;
  int unseen = 0;

  double percent(int held) const { return 100.0 * held / sets; }
};

bool holds(const Solution& solution, double truth_kg_m) {
  const auto mode = std::find_if(solution.judgement.held.begin(), solution.judgement.held.end(),
                                 [](const Held& held) { return held.place == at_mode(1); });
  REQUIRE(mode != solution.judgement.held.end());
  return std::abs(mode->residual_kg_m - truth_kg_m) <= coverage_factor * mode->u_residual_kg_m;
}

Coverage coverage_of_mode(const Kind& kind, const std::vector<double>& of_critical, int sets) {
  std::vector<double> speeds;
  for (double part : of_critical) speeds.push_back(part * *first_critical_rad_s(kind.beam));
  Coverage coverage;
  for (; coverage.sets < sets; ++coverage.sets) {
    const auto seed = static_cast<std::uint64_t>(coverage.sets + 1);
    rigsim::Random random(seed, 304);
    const auto slices = spread(random);
    Bench as_found(kind.rig, 2, slices, kind.shaft, speeds, seed);
    Bench balanced(kind.rig, 2, slices, kind.shaft, speeds, seed);
    as_found.set_floor(1e-6);
    balanced.set_floor(1e-6);
    if (holds(as_found.find(400e-6), std::abs(as_found.modal_truth(kind.beam, 0)))) ++coverage.held_as_found;
    const Solution solution = balanced.balance(400e-6);
    const double truth = std::abs(balanced.modal_truth(kind.beam, 0));
    if (holds(solution, truth)) ++coverage.held_balanced;
    if (warned(solution, WarningCode::mode_unseen)) ++coverage.unseen;
    if (solution.judgement.verdict != Verdict::within) continue;
    ++coverage.within;
    if (truth > solution.modes.front().limit_kg_m) ++coverage.falsely_within;
  }
  return coverage;
}

}  // namespace

TEST_CASE("what is said of a mode holds in 95 of 100 shafts, also where the spins were too slow to show it") {
  const Kind kind = kind_of_long_shaft(1.3);
  constexpr int sets = 100;
  fmt::print("three planes, two pedestals; speeds over critical: held as found, balanced, within, falsely, unseen\n");
  for (const std::vector<double>& speeds :
       {std::vector<double>{0.2, 0.3}, {0.3, 0.4, 0.5}, {0.45, 0.7}, {0.5, 0.7, 0.9}, {0.5, 0.9, 1.3}}) {
    const Coverage coverage = coverage_of_mode(kind, speeds, sets);
    fmt::print("  {:<16} {:5.1f} % {:5.1f} % {:4} {:4} {:4}\n", fmt::format("{}", fmt::join(speeds, ", ")),
               coverage.percent(coverage.held_as_found), coverage.percent(coverage.held_balanced), coverage.within,
               coverage.falsely_within, coverage.unseen);
    // 100 sets of 95 % scatter by 2.2 %; a residual near nothing is known better than its ± says.
    CHECK(coverage.percent(coverage.held_as_found) >= 91.0);
    CHECK(coverage.percent(coverage.held_balanced) >= 91.0);
    CHECK(coverage.falsely_within <= 0.025 * sets);
    if (speeds.back() < 0.35) CHECK(coverage.unseen >= 0.95 * sets);
    if (speeds.back() > 1.0) CHECK(coverage.unseen <= 0.25 * sets);
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
  CHECK(after < before / 4.0);
  REQUIRE(solution.judgement.held.size() >= 3);
  CHECK(solution.judgement.held[1].place == at_support(Support::c));
}
