#include "counterspot/job/analysis.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/solve/repeats.hpp"
#include "counterspot/units/error.hpp"
#include "influence/design_matrix.hpp"
#include "learning/alike_spins.hpp"
#include "model/names.hpp"

namespace counterspot {

namespace {

bool says(const Warnings& warnings, WarningCode code) {
  return std::any_of(warnings.begin(), warnings.end(), [&](const Warning& warning) { return warning.code == code; });
}

void add_missing(Warnings& warnings, const Warnings& more) {
  for (const Warning& warning : more) {
    const bool known = std::any_of(warnings.begin(), warnings.end(), [&](const Warning& said) {
      return said.code == warning.code && said.sensor == warning.sensor && said.message == warning.message;
    });
    if (!known) warnings.push_back(warning);
  }
}

/// What the job's spins show of faults of the rig, also when they cannot be solved.
Warnings faults_of(const Job& job, const JobState& state, const InfluenceOptions& options, const RigKnowledge& rig) {
  const std::vector<std::string> sensors = names_of(job.rig().sensors);
  const std::vector<SpinReading> spins = readings_of(state);
  Warnings faults = compare_levels(spins, sensors, rig.earlier);
  std::vector<SpinReading> at_one_speed;
  for (const SpinReading& spin : spins) {
    if (!spin.speed_rad_s || !spins.back().speed_rad_s)
      at_one_speed.push_back(spin);
    else if (one_speed({spin}, *spins.back().speed_rad_s))
      at_one_speed.push_back(bring_to_speed(spin, motions_of(state), *spins.back().speed_rad_s));
  }
  const Warnings odd = compare_spins(at_one_speed, names_of(job.shaft().planes), sensors, options);
  faults.insert(faults.end(), odd.begin(), odd.end());
  return faults;
}

/// What the readings say of the weights that were stated.
void take_statements(const Job& job, const JobState& state, Analysis& analysis) {
  const int last = state.spins.back().number;
  for (const MovedReading& moved : moved_readings(job)) {
    analysis.warnings.push_back(warning_of(moved, job));
    if (moved.spins.back() == last && state.last_stated.value_or(0) < last) analysis.moved = moved;
  }
  if (auto unmoved = nothing_moved(job)) analysis.warnings.push_back(std::move(*unmoved));
}

/// Solves, or says in the analysis why not.
std::optional<Solution> try_to_solve(const Job& job, const JobState& state, const SolveOptions& options,
                                     Analysis& analysis) {
  try {
    return solve_readings(job.rig(), job.shaft(), readings_of(state), motions_of(state), options);
  } catch (const Error& error) {
    analysis.why = error.what();
    analysis.remedy = error.remedy();
    return std::nullopt;
  }
}

/// A shaft may be what the model of the rig does not foresee: up to this χ²/ν what is foretold is made so much less
/// sure; beyond it the spins and the model contradict one another, which is said.
constexpr double contradicted_by = 16.0;

}  // namespace

Analysis analyse(const Job& job, const std::optional<FamilyPrior>& prior, const RigKnowledge& rig) {
  Analysis analysis;
  const JobState state = state_of(job.events);
  if (state.spins.empty()) {
    analysis.why = "there is no spin yet";
    analysis.remedy = "spin the shaft as it was found";
    return analysis;
  }
  SolveOptions options;
  options.rig = rig;
  options.trial_weights = trial_weights_of(job);
  analysis.solution = try_to_solve(job, state, options, analysis);
  analysis.own_coefficients = analysis.solution.has_value();
  analysis.solved_with = options;
  options.influence.setting = job.rig().setting;
  const bool goes = prior && prior->motions == motions_of(state) && uncertainties_known(readings_of(state)) &&
                    !turned_in_between(readings_of(state));
  if (goes) options.influence.prior = prior->coefficients;
  analysis.warnings = faults_of(job, state, options.influence, rig);
  take_statements(job, state, analysis);
  if (goes) {
    auto with_prior = try_to_solve(job, state, options, analysis);
    if (with_prior && prior->of_rig && says(with_prior->influence.warnings, WarningCode::out_of_band) &&
        with_prior->influence.chi_squared_per_dof < contradicted_by) {
      options.influence.prior->covariance *= with_prior->influence.chi_squared_per_dof;
      with_prior = try_to_solve(job, state, options, analysis);
    }
    if (with_prior && says(with_prior->influence.warnings, WarningCode::out_of_band)) {
      add_missing(analysis.warnings, with_prior->influence.warnings);  // said, and not used
    } else if (with_prior) {
      analysis.solution = with_prior;
      analysis.used_prior = true;
      analysis.solved_with = options;
    }
  }
  if (!analysis.solution) {
    analysis.warnings = gathered(analysis.warnings);
    return analysis;
  }
  hold_back(analysis.solution->judgement, analysis.warnings);
  Warnings all = analysis.solution->warnings;
  add_missing(all, not_holding(analysis.warnings));
  analysis.warnings = gathered(all);
  return analysis;
}

std::optional<Finding> finding_of(const Analysis& analysis) {
  if (!analysis.solution) return std::nullopt;
  Finding finding = finding_of(*analysis.solution);
  finding.used_prior = analysis.used_prior;
  return finding;
}

double predicted_over_limit(const Solution& solution, const Rig& rig, const Shaft& shaft, Base base) {
  const InfluenceSummary& influence = solution.influence;
  Eigen::MatrixXd covariance = influence.residual_covariance;
  if (base == Base::bare) covariance += influence.bare_covariance_change;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const PlaneUnbalance& plane = influence.planes[p];
    const double set =
        std::norm(base == Base::bare ? plane.bare_correction_kg_m : plane.correction_kg_m) *
        (rig.setting.mass_fraction * rig.setting.mass_fraction + rig.setting.angle_rad * rig.setting.angle_rad) / 2.0;
    const auto at = static_cast<Eigen::Index>(2 * p);
    covariance.block<2, 2>(at, at) += set * Eigen::Matrix2d::Identity();
  }
  // What a limited correction leaves, and √2 of u in its worst direction, the size expected of a residual of nought.
  std::vector<Phasor> left;
  for (const PlaneUnbalance& plane : solution.influence.planes)
    left.push_back(base == Base::bare ? plane.bare_kg_m + plane.bare_correction_kg_m
                                      : plane.residual_kg_m + plane.correction_kg_m);
  double worst = 0.0;
  for (const Held& held : judge(shaft, solution.limits, left, covariance).held)
    worst = std::max(worst, std::hypot(held.residual_kg_m, std::sqrt(2.0) * held.u_residual_kg_m) / held.limit_kg_m);
  return worst;
}

}  // namespace counterspot
