// An instruction is a value, and its words follow from it: programs and people read the same (`job next --json` keeps
// these texts, so they are held to the letter).
#include <catch2/catch.hpp>

#include "pencil_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// Spun as found and with a trial weight in each plane: far from its limits.
KnownJob outside_limit() {
  const PencilRig rig;
  Job job = new_job();
  append(job, rig.spin({}));
  for (const FittedWeight& trial : {FittedWeight{0, 0.01, 0.04, 0.4}, FittedWeight{1, 0.01, 0.04, 2.0}}) {
    append(job, Fitted{{trial}});
    append(job, rig.spin({trial}));
  }
  Analysis analysis = analyse(job, {});
  return {std::move(job), {}, std::move(analysis)};
}

NextStep ending(EndReason reason, std::size_t spins = 0, double unsure_over_limit = 0.0) {
  NextStep step{StepKind::close_not_within};
  step.end = End{reason, spins, unsure_over_limit};
  return step;
}

NextStep trial_without_plan(NoTrial why) {
  NextStep step{StepKind::fit_trial};
  step.trials = {{0, why}};
  return step;
}

const Warning bends{WarningCode::flexible_shaft, std::nullopt, "this shaft bends", {}, {}, "use three planes"};

}  // namespace

TEST_CASE("why a job ends without a shaft within limit is said in the first line, and what is kept in the last") {
  const KnownJob known = outside_limit();
  REQUIRE(known.analysis.solution);
  auto first = [&](NextStep step) {
    step.doubts = {{bends, {}}};
    const StepWords said = step_words(step, known);
    CHECK(said.words == "CLOSE the job: the shaft is not within limit");
    REQUIRE(said.details.size() == 3);
    CHECK(said.details.back() == "'job close' writes it into the log as outside");
    return said.details.front();
  };
  CHECK(first(ending(EndReason::stays_in_doubt)) == "this shaft bends");
  CHECK(first(ending(EndReason::still_in_doubt, 3)) == "after 3 spins with these weights still: this shaft bends");
  CHECK(first(ending(EndReason::too_many)) == "6 corrections did not bring it within limit");
  CHECK(first(ending(EndReason::no_room)) == "no weight that the planes may still carry makes it better");
  CHECK(first(ending(EndReason::too_unsure, 3, 0.25)).rfind("after 3 spins alike the residual is ", 0) == 0);
  CHECK(first(ending(EndReason::too_unsure, 3, 0.25)).find(" % of the limit and its ± 25 %") != std::string::npos);
}

TEST_CASE("a trial weight that cannot be planned is asked for in words that say why") {
  const KnownJob known = outside_limit();
  CHECK(step_words(trial_without_plan(NoTrial::plane_full), known).words ==
        "TAKE the weights off plane A, then fit one trial weight there");
  CHECK(step_words(trial_without_plan(NoTrial::nothing_in_stock), known).words ==
        "FIND a trial weight for plane A: nothing of the stock may be fitted there");
  const StepWords unknown = step_words(trial_without_plan(NoTrial::nothing_known), known);
  CHECK(unknown.words == "FIT a trial weight at plane A, at the mark");
  REQUIRE(unknown.details.size() == 2);
  CHECK(
      unknown.details.front() ==
      "weigh it first; it should change the reading by about a third, and not pull with more than a tenth of what its "
      "support carries");
}

TEST_CASE("a spin is asked for once more to be surer, or because spins contradict one another") {
  const KnownJob known = outside_limit();
  NextStep again{StepKind::spin_again};
  CHECK(step_words(again, known).words == "SPIN AGAIN, longer: too near the limit to be sure");
  again.doubts = {{bends, {}}};
  const StepWords contradicted = step_words(again, known);
  CHECK(contradicted.words == "SPIN AGAIN: the spins contradict one another");
  CHECK(contradicted.details == std::vector<std::string>{"this shaft bends", "use three planes"});
}
