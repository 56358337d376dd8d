// What the operator states, against what was asked for and what the sensors read.
#include "counterspot/job/stated.hpp"

#include <rapidcheck.h>
#include <catch2/catch.hpp>
#include <numbers>
#include <random>

#include "counterspot/solve/solution.hpp"
#include "job/pencil_rig.hpp"
#include "says.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

Spun named(Spun spun, const std::string& label) {
  spun.label = label;
  return spun;
}

/// As found, a trial at A, a trial at B that is left on together with the first: outside, and a correction is asked
/// for.
Job job_with_trials_on(const PencilRig& rig) {
  Job job = new_job();
  append(job, rig.spin({}));
  const std::vector<FittedWeight> at_a{{0, 0.005, 0.04, 0.3}};
  append(job, Fitted{at_a});
  append(job, rig.spin(at_a));
  const std::vector<FittedWeight> both{{0, 0.005, 0.04, 0.3}, {1, 0.004, 0.04, 1.7}};
  append(job, Fitted{both});
  append(job, rig.spin(both));
  return job;
}

std::string unlike(const Job& job, const std::vector<FittedWeight>& after) {
  const auto warning = unlike_asked(next_of(job), state_of(job.events).on_shaft, after, job.rig(), job.shaft());
  return warning ? warning->message : "";
}

/// On top of what is on the shaft, or alone.
std::vector<FittedWeight> together(std::vector<FittedWeight> pieces, const std::vector<FittedWeight>& more) {
  pieces.insert(pieces.end(), more.begin(), more.end());
  return pieces;
}

Phasor at_plane_of(const std::vector<FittedWeight>& pieces, int plane) {
  Phasor sum;
  for (const FittedWeight& piece : pieces)
    if (piece.plane == plane) sum += piece.unbalance_kg_m();
  return sum;
}

}  // namespace

TEST_CASE("a trial weight that was fitted and not stated is asked about, never laid to its mass") {
  const PencilRig rig;
  Job job = new_job();
  append(job, named(rig.spin({}), "as found"));
  const NextStep asked = next_of(job);
  REQUIRE(asked.kind == StepKind::fit_trial);
  append(job, named(rig.spin(asked.pieces), "spin 2"));  // fitted, but 'job fit' was forgotten
  const Analysis analysis = analyse(job, {});
  CHECK(says(analysis.warnings, WarningCode::reading_moved));
  REQUIRE(analysis.moved);
  CHECK(analysis.moved->spins == std::vector<int>{2});
  const NextStep step = next_step(job, analysis, {});
  CHECK(step.kind == StepKind::say_fitted);
  CHECK(step.weight_asked);
  const std::string words = said_of(job).words;
  CHECK(words.find("a weight was asked for and none stated, but the reading moved by") != std::string::npos);
  CHECK(words.find("is it on?") != std::string::npos);
  CHECK(words.find("heavier") == std::string::npos);
  CHECK(step.pieces == asked.pieces);
}

TEST_CASE("that nothing was fitted is an answer, and the work goes on") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  append(job, rig.spin({{0, 0.005, 0.04, 0.0}}));
  REQUIRE(next_of(job).kind == StepKind::say_fitted);
  append(job, Fitted{});  // the same as before: nothing
  CHECK(next_of(job).kind == StepKind::spin);
  CHECK(moved_readings(job).empty());
}

TEST_CASE("a reading that did not move raises no question, stated or not") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  append(job, rig.spin({}));
  CHECK(moved_readings(job).empty());
  CHECK(next_of(job).kind == StepKind::fit_trial);
}

TEST_CASE("changed nothing, and changed without a statement, are two findings") {
  const PencilRig rig;
  Job stated = new_job();
  append(stated, rig.spin({}));
  append(stated, Fitted{{{0, 0.005, 0.04, 0.0}}});
  append(stated, rig.spin({}));  // stated, and forgotten on the bench
  const Warnings unmoved = analyse(stated, {}).warnings;
  CHECK(says(unmoved, WarningCode::weak_trial));
  CHECK_FALSE(says(unmoved, WarningCode::reading_moved));
  Job silent = new_job();
  append(silent, rig.spin({}));
  append(silent, rig.spin({{0, 0.005, 0.04, 0.0}}));
  const Warnings moved = analyse(silent, {}).warnings;
  CHECK(says(moved, WarningCode::reading_moved));
  CHECK_FALSE(says(moved, WarningCode::weak_trial));
}

TEST_CASE("spins that scatter by 3 % of the reading are not taken for a forgotten weight") {
  // A change of two readings of 3 % each is of 4.2 %, three deviations of the usual 4 % are 12 %: by Rayleigh's
  // distribution exp(−½·(12/3)²) = 3 in 10 000 of a sensor's changes are beyond.
  std::mt19937 random(20261128);
  std::normal_distribution<double> normal;
  const PencilRig rig;
  int asked = 0;
  constexpr int jobs = 1000;
  constexpr double scatter = 0.03 / std::numbers::sqrt2;  // of either part
  for (int i = 0; i < jobs; ++i) {
    Job job = new_job();
    for (int spin = 0; spin < 2; ++spin) {
      Spun spun = rig.spin({});
      for (SensorReading& reading : spun.readings)
        reading.value *= Phasor(1.0 + scatter * normal(random), scatter * normal(random));
      append(job, spun);
    }
    asked += moved_readings(job).empty() ? 0 : 1;
  }
  CHECK(asked <= jobs / 100);
}

TEST_CASE("a taken-back statement is asked for again, with the pieces that were asked for") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  const NextStep asked = next_of(job);
  append(job, Fitted{{{0, 17.6, 0.04, 0.0}}});
  CHECK(next_of(job).kind == StepKind::spin);
  append(job, TakenBack{2, "17.6 g, not kg"});
  const NextStep again = next_of(job);
  CHECK(again.kind == StepKind::fit_trial);
  CHECK(again.pieces == asked.pieces);
}

TEST_CASE("after a correction's statement was taken back no job is closed on the spin before it") {
  PencilRig rig;
  rig.shaft = {phasor_at(5e-6, 1.0), phasor_at(5e-6, 2.0)};  // well within 40 g·mm
  Job job = job_with_trials_on(rig);
  append(job, Fitted{});
  append(job, rig.spin({}));
  REQUIRE(next_of(job).kind == StepKind::close);
  append(job, Fitted{{{0, 0.001, 0.04, 0.0}}});
  append(job, TakenBack{static_cast<int>(job.events.size()), "it was not fitted"});
  CHECK(next_of(job).kind == StepKind::spin);
}

TEST_CASE("with trial weights on there are two choices, and both leave the shaft alike") {
  const PencilRig rig;
  const Job job = job_with_trials_on(rig);
  const NextStep step = next_of(job);
  REQUIRE(step.kind == StepKind::fit_correction);
  REQUIRE(step.instead);
  CHECK(step.instead->take_off == std::vector<int>{1, 2});
  CHECK(said_of(job).words.rfind("TAKE the trial weights off and FIT", 0) == 0);  // the usual one is told first
  const auto on = state_of(job.events).on_shaft;
  for (int plane : {0, 1}) {
    // One weight per plane, and it undoes the shaft's own unbalance.
    const Phasor bare = at_plane_of(step.instead->pieces, plane);
    CHECK(std::abs(bare + rig.shaft[static_cast<std::size_t>(plane)]) < 0.03 * 300e-6);
    CHECK(std::abs(bare - at_plane_of(together(on, step.pieces), plane)) < 1e-9);
  }
  CHECK(step.instead->pieces.size() == 2);
  CHECK(step.instead->expected_over_limit > 0.0);
}

TEST_CASE("a correction that was fitted stays on when trial weights come off") {
  const PencilRig rig;
  Job job = job_with_trials_on(rig);
  auto on = together(state_of(job.events).on_shaft, {{0, 0.003, 0.04, 3.0}});
  append(job, Fitted{on});
  append(job, rig.spin(on));
  CHECK(trial_weights_of(job).size() == 2);
  const NextStep step = next_of(job);
  REQUIRE(step.instead);
  CHECK(step.instead->take_off == std::vector<int>{1, 2});
  on = {on.back()};
  append(job, Fitted{on});
  append(job, rig.spin(on));
  CHECK(trial_weights_of(job).empty());
  CHECK_FALSE(next_of(job).instead);
}

TEST_CASE("of a file's spins, trial weights are those that were on before the spins sufficed") {
  const PencilRig rig;
  const Job job = job_with_trials_on(rig);
  std::vector<SpinReading> spins = readings_of(state_of(job.events));
  CHECK(trial_pieces(spins, 2).size() == 2);
  spins.push_back(spins.back());
  const FittedWeight correction{1, 0.004, 0.04, 4.0};
  spins.back().fitted.push_back(correction);
  CHECK(trial_pieces(spins, 2).size() == 2);
  spins.back().fitted = {correction};
  CHECK(trial_pieces(spins, 2).empty());
}

TEST_CASE("what was fitted as asked, on either base, is not asked about") {
  const PencilRig rig;
  const Job job = job_with_trials_on(rig);
  const NextStep step = next_of(job);
  const auto on = state_of(job.events).on_shaft;
  CHECK(unlike(job, together(on, step.pieces)).empty());
  CHECK(unlike(job, step.instead->pieces).empty());
  // As weighed and set in a shop: 1.5 times in two pieces, 20 deg off.
  auto pieces = step.instead->pieces;
  pieces[0].mass_kg *= 0.75;
  pieces[0].angle_rad += radians(20.0);
  pieces.push_back(pieces[0]);
  CHECK(unlike(job, pieces).empty());
}

TEST_CASE("what is far from what was asked for is asked about once") {
  const PencilRig rig;
  const Job job = job_with_trials_on(rig);
  const NextStep step = next_of(job);
  const auto on = state_of(job.events).on_shaft;
  auto with = [&](auto change) {
    auto pieces = step.instead->pieces;
    change(pieces);
    return unlike(job, pieces);
  };
  CHECK(with([](auto& pieces) { pieces[0].mass_kg *= 1000.0; }).find("is stated, on a shaft of 14.6 kg") !=
        std::string::npos);
  CHECK(with([](auto& pieces) { pieces[0].mass_kg *= 2.2; }).find("plane A") != std::string::npos);
  CHECK(with([](auto& pieces) { pieces[0].mass_kg *= 0.4; }).find("plane A") != std::string::npos);
  CHECK(with([](auto& pieces) { pieces[1].plane = 0; }).find("plane B") != std::string::npos);
  CHECK(with([](auto& pieces) { pieces[1].mass_kg *= -1.0; }).find("metal taken away is stated") != std::string::npos);
  CHECK(with([](auto& pieces) { pieces[1].angle_rad += radians(180.0); }).find("plane B") != std::string::npos);
  CHECK(with([](auto& pieces) { pieces.pop_back(); }).find("nothing is stated") != std::string::npos);
  CHECK(unlike(job, on).find("nothing is stated to be fitted") != std::string::npos);
  // The weights for the bare shaft, with the trial weights stated to be on still.
  CHECK(unlike(job, together(on, step.instead->pieces)).find("trial weights off") != std::string::npos);
}

TEST_CASE("a trial weight elsewhere on the plane asked for is the operator's choice, another plane is asked about") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  const FittedWeight asked = next_of(job).pieces.at(0);
  FittedWeight elsewhere = asked;
  elsewhere.angle_rad += 2.0;
  CHECK(unlike(job, {elsewhere}).empty());
  FittedWeight other = asked;
  other.plane = 1 - asked.plane;
  CHECK(unlike(job, {other}).find("nothing was asked for") != std::string::npos);
  FittedWeight in_kg = asked;
  in_kg.mass_kg *= 1000.0;
  CHECK_FALSE(unlike(job, {in_kg}).empty());
}

TEST_CASE("turning every angle of a job turns both choices with it") {
  rc::check([] {
    const double turn = radians(*rc::gen::inRange(0, 360));
    const PencilRig rig;
    PencilRig turned = rig;
    for (Phasor& unbalance : turned.shaft) unbalance *= phasor_at(1.0, turn);
    const Job job = job_with_trials_on(rig);
    Job other = new_job();
    for (const StandingSpin& spin : state_of(job.events).spins) {
      auto fitted = spin.fitted;
      for (FittedWeight& piece : fitted) piece.angle_rad += turn;
      append(other, Fitted{fitted});
      append(other, turned.spin(fitted));
    }
    const NextStep before = next_of(job);
    const NextStep after = next_of(other);
    RC_ASSERT(after.instead.has_value());
    for (int plane : {0, 1}) {
      RC_ASSERT(std::abs(at_plane_of(after.instead->pieces, plane) -
                         phasor_at(1.0, turn) * at_plane_of(before.instead->pieces, plane)) < 1e-10);
      RC_ASSERT(std::abs(at_plane_of(after.pieces, plane) - phasor_at(1.0, turn) * at_plane_of(before.pieces, plane)) <
                1e-10);
    }
  });
}
