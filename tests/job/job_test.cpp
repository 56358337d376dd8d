#include "counterspot/job/job.hpp"

#include <rapidcheck.h>
#include <catch2/catch.hpp>

#include "counterspot/job/next_step.hpp"
#include "counterspot/units/error.hpp"
#include "job/pencil_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

std::string refusal(const Job& job, What what) {
  Job copy = job;
  try {
    append(copy, std::move(what));
  } catch (const Error& error) {
    return error.code();
  }
  return "";
}

std::string refusal_of_all(const Job& job) {
  try {
    admit_entries(job);
  } catch (const Error& error) {
    return error.code();
  }
  return "";
}

const Finding some_finding{Verdict::within, {}, {{{"A"}, 1e-6, 1e-7, 40e-6, Verdict::within}}, false};

}  // namespace

TEST_CASE("the operator is led from the shaft as found to the close, one instruction at a time") {
  const PencilRig rig;
  Job job = new_job();
  std::vector<StepKind> asked;
  while (next_of(job).kind != StepKind::close && asked.size() < 20) {
    const NextStep step = next_of(job);
    asked.push_back(step.kind);
    CHECK(wants_hands(step.kind));  // a weight or a spin is asked for each time
    const auto on = state_of(job.events).on_shaft;
    if (step.kind == StepKind::fit_trial || step.kind == StepKind::fit_correction) {
      Fitted fitted{on};
      fitted.pieces.insert(fitted.pieces.end(), step.pieces.begin(), step.pieces.end());
      append(job, fitted);
    } else {
      append(job, rig.spin(on));
    }
  }
  CHECK(asked == std::vector<StepKind>{StepKind::spin_as_found, StepKind::fit_trial, StepKind::spin,
                                       StepKind::fit_trial, StepKind::spin, StepKind::fit_correction, StepKind::spin});
  // The trial weights stay on: what is asked for is 300 g·mm at 220 deg and 200 g·mm at 70 deg less the trials.
  const auto on = state_of(job.events).on_shaft;
  Phasor a;
  for (const FittedWeight& piece : on)
    if (piece.plane == 0) a += piece.unbalance_kg_m();
  CHECK(std::abs(a + rig.shaft[0]) < 0.03 * 300e-6);  // as well as the trial weight is known: 1 % and 1 deg
  const auto finding = finding_of(analyse(job, {}));
  REQUIRE(finding);
  append(job, Closed{state_of(job.events).final_spin(), finding, ""});
  CHECK(next_of(job).kind == StepKind::nothing);
}

TEST_CASE("a trial weight pulls with a tenth of what its support carries") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  const NextStep step = next_of(job);
  REQUIRE(step.pieces.size() == 1);
  // F = m·r·Ω² with half of 14.6 kg on the support: 0.1·7.3·9.80665 N = m·0.04 m·(188.496 rad/s)², m = 5.037 g.
  CHECK(step.pieces[0].mass_kg == Approx(5.037e-3).epsilon(1e-3));
}

TEST_CASE("trials serve in any order, left on or taken off") {
  const PencilRig rig;
  const FittedWeight at_a{0, 0.005, 0.04, 0.3};
  const FittedWeight at_b{1, 0.004, 0.04, 1.7};
  const std::vector<std::vector<std::vector<FittedWeight>>> ways = {
      {{at_a}, {at_b}}, {{at_b}, {at_a}}, {{at_a}, {at_a, at_b}}, {{at_b}, {at_b, at_a}}, {{at_a, at_b}, {at_b}}};
  for (const auto& way : ways) {
    Job job = new_job();
    append(job, rig.spin({}));
    for (const auto& pieces : way) {
      append(job, Fitted{pieces});
      append(job, rig.spin(pieces));
    }
    const Analysis analysis = analyse(job, {});
    REQUIRE(analysis.solution);
    const Phasor as_found = analysis.solution->influence.planes[0].as_found_kg_m;
    CHECK(std::abs(as_found - rig.shaft[0]) < 1e-3 * 300e-6);
  }
}

TEST_CASE("a residual is final only from a spin made after the last change of weights") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  CHECK(state_of(job.events).final_spin() == 1);
  append(job, Fitted{{{0, 0.005, 0.04, 0.0}}});
  CHECK_FALSE(state_of(job.events).final_spin());
  CHECK(refusal(job, Closed{1, some_finding, ""}) == "not_final");
  append(job, rig.spin({{0, 0.005, 0.04, 0.0}}));
  CHECK(refusal(job, Closed{1, some_finding, ""}) == "not_final");
  CHECK(refusal(job, Closed{3, std::nullopt, ""}) == "no_finding");
  CHECK(refusal(job, Closed{3, some_finding, ""}).empty());
  append(job, TakenBack{2, "it fell off"});
  CHECK(refusal(job, Closed{3, some_finding, ""}) == "not_final");
}

TEST_CASE("a job closed without a final spin has a reason") {
  Job job = new_job();
  CHECK(refusal(job, Closed{}) == "no_reason");
  CHECK(refusal(job, Closed{{}, {}, "the tube is dented"}).empty());
}

TEST_CASE("any entry can be taken back once, with a reason, and nothing is erased") {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  append(job, rig.spin({}));
  CHECK(refusal(job, TakenBack{1, ""}) == "no_reason");
  CHECK(refusal(job, TakenBack{3, "?"}) == "no_such_entry");
  append(job, TakenBack{1, "the belt slipped"});
  CHECK(job.events.size() == 3);
  CHECK(state_of(job.events).spins.size() == 1);
  CHECK(refusal(job, TakenBack{1, "again"}) == "already_taken_back");
  CHECK(refusal(job, TakenBack{3, "no, it had not"}) == "already_taken_back");
}

TEST_CASE("a closed job takes nothing more until its close is taken back") {
  const PencilRig rig;
  Job job = new_job();
  append(job, Closed{{}, {}, "lunch"});
  CHECK(refusal(job, rig.spin({})) == "job_closed");
  append(job, TakenBack{1, "lunch is over"});
  CHECK(state_of(job.events).open);
  CHECK(refusal(job, rig.spin({})).empty());
}

TEST_CASE("readings and pieces that cannot be are refused") {
  const PencilRig rig;
  const Job job = new_job();
  Spun one_sensor = rig.spin({});
  one_sensor.readings.pop_back();
  CHECK(refusal(job, one_sensor) == "wrong_sensors");
  Spun no_number = rig.spin({});
  no_number.readings[1].value = {NAN, 0.0};
  CHECK(refusal(job, no_number) == "bad_reading");
  CHECK(refusal(job, Fitted{{{2, 0.005, 0.04, 0.0}}}) == "bad_piece");
  CHECK(refusal(job, Fitted{{{0, 0.005, 0.0, 0.0}}}) == "bad_piece");
  CHECK(refusal(job, Fitted{{{0, 0.0, 0.04, 0.0}}}) == "bad_piece");
}

TEST_CASE("taking the last entry back leaves the job where it stood before") {
  const PencilRig rig;
  rc::check("for any course of a job", [&](const std::vector<bool>& spins) {
    Job job = new_job();
    for (std::size_t i = 0; i < spins.size(); ++i) {
      if (spins[i]) append(job, rig.spin(state_of(job.events).on_shaft));
      if (!spins[i]) append(job, Fitted{{{0, 0.001 * static_cast<double>(i + 1), 0.04, 0.0}}});
    }
    const JobState before = state_of(job.events);
    append(job, rig.spin(before.on_shaft));
    append(job, TakenBack{static_cast<int>(job.events.size()), "slipped"});
    const JobState after = state_of(job.events);
    RC_ASSERT(after.on_shaft == before.on_shaft);
    RC_ASSERT(after.spins.size() == before.spins.size());
    RC_ASSERT(after.final_spin() == before.final_spin());
  });
}

TEST_CASE("entries that come together are admitted as if each came by itself") {
  const PencilRig rig;
  rc::check("for any course of a job, also one with takings back and closings",
            [&](const std::vector<unsigned>& course) {
              Job job = new_job();
              std::string alone;  // the code of the first refusal
              for (std::size_t i = 0; i < course.size() && alone.empty(); ++i) {
                const auto number = static_cast<int>(i) + 1;
                const auto other = static_cast<int>(course[i] / 4 % course.size());
                What what = rig.spin({});
                if (course[i] % 4 == 1) what = Fitted{{{0, 0.001 * number, 0.04, 0.0}}};
                if (course[i] % 4 == 2) what = TakenBack{other + 1, "slipped"};
                if (course[i] % 4 == 3) what = Closed{number - 1, some_finding, ""};
                alone = refusal(job, what);
                job.events.push_back({number, 1764072000, "made up", std::move(what)});
              }
              RC_ASSERT(refusal_of_all(job) == alone);
            });
}

TEST_CASE("a spin that is in doubt never ends a job as within, and says what to mend first") {
  const PencilRig rig;
  const std::vector<FittedWeight> correction = {{0, 300e-6 / 0.04, 0.04, radians(220.0)},
                                                {1, 200e-6 / 0.04, 0.04, radians(70.0)}};
  Job job = new_job();
  append(job, rig.spin({}));
  append(job, Fitted{{{0, 0.01, 0.04, 0.0}}});
  append(job, rig.spin({{0, 0.01, 0.04, 0.0}}));
  append(job, Fitted{{{1, 0.01, 0.04, 0.0}}});
  append(job, rig.spin({{1, 0.01, 0.04, 0.0}}));
  append(job, Fitted{correction});
  Spun last = rig.spin(correction);
  SECTION("sound") {
    append(job, last);
    CHECK(finding_of(analyse(job, {}))->verdict == Verdict::within);
    CHECK(next_of(job).kind == StepKind::close);
  }
  SECTION("a cable came loose in the last spin") {
    last.warnings = {{"loose_cable", "B", "sensor B: the signal went away"}};
    append(job, last);
    const auto finding = finding_of(analyse(job, {}));
    CHECK(finding->verdict == Verdict::unsure);
    REQUIRE(finding->held_back.size() == 1);
    CHECK(finding->held_back[0].code == "loose_cable");
    CHECK(finding->held_back[0].sensors == std::vector<std::string>{"B"});
    CHECK_FALSE(finding->held_back[0].remedy.empty());
    CHECK(next_of(job).kind == StepKind::mend);
  }
  SECTION("the rig failed its qualification") {
    append(job, last);
    RigKnowledge rig_known;
    rig_known.noticed = {{WarningCode::qualification_failed, std::nullopt, "rig bay 2 did not pass"}};
    CHECK(finding_of(analyse(job, {}, rig_known))->verdict == Verdict::unsure);
  }
}
