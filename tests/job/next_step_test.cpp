// Every state of a job has a next step, and a job that does what it is asked comes to its end.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/job/next_step.hpp"
#include "demo_files.hpp"
#include "job/pencil_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double length_m = 1.5;

/// What the sensors at both supports read of a unit at a place: the levers, and a mode sin(πz/L) with its amplification
/// (one degree of freedom, any vibrations textbook).
struct BendingRig {
  double critical_rad_s = 1e9;
  double noise = 1e-6;
  std::mt19937 random{1};

  double reach(int sensor, double z, double speed) const {
    const double ratio = speed * speed / (critical_rad_s * critical_rad_s);
    const double lever = sensor == 0 ? 1.0 - z / length_m : z / length_m;
    return lever + 0.6 * std::sin(pi * z / length_m) * ratio / (1.0 - ratio);
  }

  Spun spin(const Shaft& shaft, const std::vector<Phasor>& as_found, const std::vector<FittedWeight>& fitted,
            double speed) {
    std::normal_distribution<double> normal(0.0, noise);
    std::vector<Phasor> on = as_found;
    for (const FittedWeight& piece : fitted) on[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m();
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = speed;
    for (int sensor = 0; sensor < 2; ++sensor) {
      Phasor sum(normal(random), normal(random));
      for (std::size_t p = 0; p < on.size(); ++p) sum += 2e3 * reach(sensor, shaft.planes[p].position_m, speed) * on[p];
      spun.readings.push_back(
          {sensor == 0 ? "A" : "B", Motion::acceleration, sum, noise * noise * Eigen::Matrix2d::Identity()});
    }
    return spun;
  }
};

bool is_spin(StepKind kind) {
  return kind == StepKind::spin || kind == StepKind::spin_as_found || kind == StepKind::spin_again;
}

/// Does what the job asks, up to its end. @param slip of every weight that is fitted, as the operator does not state
/// it.
std::vector<NextStep> led(Job& job, BendingRig& rig, const std::vector<Phasor>& as_found, double speed,
                          double slip = 0.0) {
  const Shaft shaft = job.shaft();
  std::vector<FittedWeight> real;
  std::vector<NextStep> steps;
  while (steps.size() < 60) {
    NextStep step = next_of(job);
    steps.push_back(step);
    if (is_spin(step.kind)) {
      append(job, rig.spin(shaft, as_found, real, step.speed_rad_s.value_or(speed)));
    } else if (!step.pieces.empty()) {
      Fitted fitted{state_of(job.events).on_shaft};
      for (FittedWeight piece : step.pieces) {
        fitted.pieces.push_back(piece);
        piece.angle_rad += slip;
        real.push_back(piece);
      }
      append(job, fitted);
    } else {
      break;
    }
  }
  return steps;
}

std::string of_plane_in_the_middle(std::string text) {
  text += "[[plane]]\nname = \"M\"\nposition = \"750 mm\"\nradius = \"39 mm\"\n";
  return text;
}

/// The service speed is 1.1 times the critical speed of a tube this thin.
std::string bending_shaft() {
  std::string text = shaft_toml();
  text.replace(text.find("76.2 mm"), 7, "46.0 mm");
  return text;
}

const std::vector<Phasor> two_found = {phasor_at(2e-3, 0.7), phasor_at(1.5e-3, 4.0)};

}  // namespace

TEST_CASE("a shaft that bends, in two planes: balanced as far as it can be seen, then the job closes it and says why") {
  Job job = job_of(bending_shaft());
  BendingRig rig;
  rig.critical_rad_s = *safe_speed_rad_s(job.shaft()) / largest_speed_fraction;
  REQUIRE(*job.shaft().service_speed_rad_s > *safe_speed_rad_s(job.shaft()));
  const auto steps = led(job, rig, two_found, 0.5 * rig.critical_rad_s);
  CHECK(steps.back().kind == StepKind::close_not_within);
  CHECK(steps.size() < 15);
  REQUIRE(steps.back().end);
  CHECK(steps.back().end->reason == EndReason::stays_in_doubt);
  const StepWords said = said_of(job);
  CHECK(said.words == "CLOSE the job: it cannot be said that it is within limit");
  CHECK(said.details.front().find("this shaft bends") != std::string::npos);
}

TEST_CASE("the same spin is asked for three times at most, and then the job goes on") {
  Job job = job_of(shaft_toml());
  BendingRig rig;
  rig.noise = 0.2;  // about half of what the limit reads
  const auto steps = led(job, rig, {phasor_at(1e-4, 0.7), phasor_at(1e-4, 4.0)}, rad_per_s(3200.0));
  CHECK(steps.size() < 60);
  int alike = 0;
  for (const NextStep& step : steps) {
    alike = step.kind == StepKind::spin_again ? alike + 1 : 0;
    CHECK(alike < spins_alike_at_most);
  }
}

TEST_CASE("corrections that never do what was foretold come to an end too") {
  Job job = job_of(shaft_toml());
  BendingRig rig;
  rig.noise = 1e-3;
  for (double slip : {0.5, 1.5, 3.0}) {
    Job each = job;
    const auto steps = led(each, rig, two_found, rad_per_s(3200.0), slip);
    CHECK(steps.size() < 60);
  }
}

TEST_CASE("a shaft that bends, in three planes, is spun at two speeds with every set of weights") {
  Job job = job_of(of_plane_in_the_middle(bending_shaft()));
  BendingRig rig;
  rig.noise = 1e-4;
  rig.critical_rad_s = *safe_speed_rad_s(job.shaft()) / largest_speed_fraction;
  const double slow = 0.5 * rig.critical_rad_s;
  const auto steps = led(job, rig, {two_found[0], two_found[1], phasor_at(3e-3, 2.0)}, slow);
  REQUIRE(steps.size() > 8);
  CHECK(steps[0].kind == StepKind::spin_as_found);
  CHECK(steps[1].kind == StepKind::spin_as_found);
  REQUIRE(steps[1].speed_rad_s);
  CHECK(*steps[1].speed_rad_s > 0.65 * rig.critical_rad_s);
  CHECK(*steps[1].speed_rad_s < *safe_speed_rad_s(job.shaft()));  // where the page lets it run
  CHECK(steps.size() < 40);
  const JobState state = state_of(job.events);
  int sets = 0;
  for (std::size_t i = 0; i + 1 < state.spins.size(); i += 2) {
    if (state.spins[i].fitted != state.spins[i + 1].fitted) break;
    CHECK(std::abs(*state.spins[i].spun.speed_rad_s - *state.spins[i + 1].spun.speed_rad_s) > 1.0);
    ++sets;
  }
  CHECK(sets >= 5);  // as found, three trials, a correction
  const Analysis analysis = analyse(job, {});
  REQUIRE(analysis.solution);
  CHECK(analysis.solution->influence.speeds.size() == 2);
}

// The rig answers alike at both ends, which the second trial is planned by: 30 % of what is there, so it lessens.
TEST_CASE("the second trial weight goes where the first one shows that it lessens the vibration") {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> turn(0.0, 2.0 * pi);
  int lessened = 0;
  for (int shaft = 0; shaft < 50; ++shaft) {
    Job job = job_of(shaft_toml());
    BendingRig rig;
    const std::vector<Phasor> found = {phasor_at(2e-3, turn(random)), phasor_at(2e-3, turn(random))};
    append(job, rig.spin(job.shaft(), found, {}, rad_per_s(3200.0)));
    for (int trial = 0; trial < 2; ++trial) {
      const NextStep step = next_of(job);
      REQUIRE(step.kind == StepKind::fit_trial);
      Fitted fitted{state_of(job.events).on_shaft};
      fitted.pieces.push_back(step.pieces.at(0));
      append(job, fitted);
      append(job, rig.spin(job.shaft(), found, fitted.pieces, rad_per_s(3200.0)));
    }
    const auto spins = state_of(job.events).spins;
    auto squares = [](const Spun& spun) {
      return std::norm(spun.readings[0].value) + std::norm(spun.readings[1].value);
    };
    if (squares(spins[2].spun) < squares(spins[1].spun)) ++lessened;
  }
  CHECK(lessened == 50);
}

TEST_CASE("a spin in doubt is asked for again before a weight is asked for on its word, but not for ever") {
  Job job = job_of(shaft_toml());
  BendingRig rig;
  Spun flat = rig.spin(job.shaft(), {phasor_at(2e-3, 0.7), phasor_at(1e-3, 2.0)}, {}, rad_per_s(1800.0));
  for (const char* sensor : {"A", "B"}) flat.warnings.push_back({"flattened", sensor, "the signal is cut off"});
  for (int again = 0; again < spins_alike_at_most; ++again) {
    append(job, flat);
    const NextStep step = next_of(job);
    CHECK(step.kind == StepKind::mend);
    REQUIRE(step.take_back == job.events.back().number);
    CHECK(step.pieces.empty());
    CHECK(step.doubts.size() == 1);           // both sensors' once
    CHECK(said_of(job).details.size() == 3);  // what is wrong, how to mend it, which entry to take back
    append(job, TakenBack{*step.take_back, "cut off"});
    CHECK(next_of(job).kind == StepKind::spin_as_found);
  }
  append(job, flat);
  CHECK(next_of(job).kind == StepKind::fit_trial);
}
