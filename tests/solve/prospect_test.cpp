// What fitting something is expected to bring, against what is known without drawing.
#include "counterspot/solve/prospect.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "job/pencil_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// Sensors that feel their own plane alone, and weights that are set exactly.
Job exact_job() {
  Job job = new_job();
  job.rig_file = {"rig.toml", job.rig_file.text() + "\n[setting]\nmass = \"0.0001 %\"\nangle = \"0.0001 deg\"\n"};
  return job;
}

CoefficientPrior known_to(double part) {
  CoefficientPrior prior{Eigen::VectorXd::Zero(8), std::pow(20.0 * part, 2) * Eigen::MatrixXd::Identity(8, 8)};
  prior.mean << 20.0, 0.0, 0.0, 0.0, 0.0, 0.0, 20.0, 0.0;
  return prior;
}

/// All of the unbalance in plane A, spun once.
struct Stands {
  Rig rig = exact_job().rig();
  Shaft shaft = exact_job().shaft();
  std::vector<Motion> motions{Motion::velocity, Motion::velocity};
  std::vector<SpinReading> spins;
  SolveOptions options;
  Solution solution;

  explicit Stands(double part) {
    PencilRig pencil;
    pencil.far_m_s_kg_m = 0.0;
    pencil.shaft[1] = 0.0;
    Job job = exact_job();
    append(job, pencil.spin({}));
    spins = readings_of(state_of(job.events));
    options.influence.prior = known_to(part);
    solution = solve_readings(rig, shaft, spins, motions, options);
  }
  ProspectBasis basis() const { return {rig, shaft, motions, options, spins, solution}; }
  std::vector<FittedWeight> correction(double part_of_it) const {
    const FitInstruction& fit = solution.planes[0].correction;
    return {{0, part_of_it * fit.mass_kg, fit.radius_m, fit.angle_rad}};
  }
};

}  // namespace

// The residual error of plane A is −δα_AA U_A/α, that of B −δα_BA U_A/α: independent, σ = part·|U_A| in each part, so
// that both are within their limit L with the chance (1 − e^(−L²/2σ²))² (Rayleigh's distribution, any text on
// probability). After that spin hardly any uncertainty is left.
TEST_CASE("the chance that a correction brings the shaft within limit is Rayleigh's") {
  for (const double part : {0.06, 0.1, 0.15}) {
    const Stands stands(part);
    const Prospect prospect = prospect_of_correction(stands.basis(), stands.correction(1.0));
    const double sigma_gmm = part * 300.0;
    const double chance = std::pow(1.0 - std::exp(-40.0 * 40.0 / (2.0 * sigma_gmm * sigma_gmm)), 2);
    CHECK(prospect.within == Approx(chance).margin(0.09));  // three standard deviations of 256 draws
    CHECK(prospect.spins >= 1.0 + (1.0 - prospect.within));
    CHECK(prospect.spins <= 1.0 + 1.3 * (1.0 - prospect.within));
  }
}

TEST_CASE("a correction is likelier to lessen the vibration the better the coefficients are known") {
  const Stands well(0.1), hardly(1.0);
  CHECK(prospect_of_correction(well.basis(), well.correction(1.0)).falls == 1.0);
  const double unsure = prospect_of_correction(hardly.basis(), hardly.correction(1.0)).falls;
  CHECK(unsure < 0.9);
  CHECK(unsure > 0.2);
}

TEST_CASE("a weight on the wrong side lets nothing fall") {
  const Stands stands(0.1);
  CHECK(prospect_of_correction(stands.basis(), stands.correction(-0.5)).falls == 0.0);
}

TEST_CASE("a trial takes a spin of its own, and a correction after it seldom misses") {
  const Stands stands(0.5);
  const Prospect trial = prospect_of_trial(stands.basis(), stands.correction(0.3));
  CHECK(trial.within == 0.0);
  CHECK(trial.spins >= 2.0);
  CHECK(trial.spins < prospect_of_trial(stands.basis(), stands.correction(0.001)).spins);
}

TEST_CASE("a job is asked for the same each time") {
  const Stands stands(0.15);
  const auto once = prospect_of_correction(stands.basis(), stands.correction(1.0));
  const auto again = prospect_of_correction(stands.basis(), stands.correction(1.0));
  CHECK(once.spins == again.spins);
}
