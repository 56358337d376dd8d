// When a correction is fitted on the strength of earlier shafts alone, and when a trial is asked for.
#include <catch2/catch.hpp>
#include <cmath>

#include "pencil_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

/// After one spin, with the coefficients foretold to so much of their size.
static KnownJob spun_once(const PencilRig& rig, double part) {
  Job job = new_job();
  append(job, rig.spin({}));
  FamilyPrior prior;
  prior.motions = {Motion::velocity, Motion::velocity};
  prior.coefficients.mean = Eigen::VectorXd::Zero(8);
  prior.coefficients.mean << 20.0, 0.0, 4.0, 0.0, 4.0, 0.0, 20.0, 0.0;
  prior.coefficients.covariance = std::pow(20.0 * part, 2) * Eigen::MatrixXd::Identity(8, 8);
  return KnownJob{job, prior, analyse(job, prior)};
}

// 300 g·mm are 7.5 times the limit of 40. With coefficients known to 15 % about 60 g·mm are left, more than the limit
// and a fifth of what is there, and the spin after it teaches both planes; known to 80 %, most of it is left.
TEST_CASE(
    "a best guess is fitted in both planes if it saves a trial; where it may make things worse a trial is asked for") {
  const PencilRig rig;
  const KnownJob known = spun_once(rig, 0.15);
  const NextStep guess = known.next();
  CHECK(guess.kind == StepKind::fit_correction);
  CHECK(guess.pieces.size() == 2);
  REQUIRE(guess.expected_over_limit);
  CHECK(*guess.expected_over_limit > 1.0);
  REQUIRE(guess.choice);
  CHECK(guess.choice->asked.spins < guess.choice->other.spins);
  CHECK(step_words(guess, known).details.back().find("with a trial weight first") != std::string::npos);
  CHECK(spun_once(rig, 0.8).next().kind == StepKind::fit_trial);
  CHECK(spun_once(rig, 0.01).next().kind == StepKind::fit_correction);
}

// What is read is a tenth of what a shaft at its limit would read, if the coefficients were as foretold; they may as
// well be a tenth of that.
TEST_CASE("a shaft whose coefficients are hardly known is not called within on the strength of one spin") {
  PencilRig rig;
  for (Phasor& plane : rig.shaft) plane *= 0.01;
  CHECK(spun_once(rig, 0.05).next().kind == StepKind::close);
  CHECK_FALSE(spun_once(rig, 1.0).analysis.solution);
  CHECK(spun_once(rig, 1.0).next().kind == StepKind::fit_trial);
}
