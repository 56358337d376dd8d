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
void add_statements(const Job& job, const JobState& state, Analysis& analysis) {
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

/// U = α⁻¹ Z is carried through linearly, which says too little of U where α itself is hardly known (GUM 5.1.2, note:
/// where the model is far from linear its higher terms count). Coefficients that are known no better than this, one
/// standard uncertainty of a sensor's over their size, give no residual, and so no verdict (tried, no source).
constexpr double known_well_enough = 1.0 / 3.0;

bool coefficients_known(const InfluenceSummary& influence) {
  const std::size_t planes = influence.planes.size();
  for (std::size_t first = 0; first < influence.coefficients.size(); first += planes) {
    double variance = 0.0;
    double size = 0.0;
    for (std::size_t at = first; at < first + planes; ++at) {
      variance += influence.coefficients[at].covariance.trace();
      size += std::norm(influence.coefficients[at].value);
    }
    if (variance > known_well_enough * known_well_enough * size) return false;
  }
  return true;
}

bool prior_goes_with(const FamilyPrior& prior, const std::vector<SpinReading>& spins,
                     const std::vector<Motion>& motions) {
  return prior.motions == motions && uncertainties_known(spins) && !turned_in_between(spins);
}

/// Solves with the prior in the options, which are left as they were used. @param solve std::optional<Solution>(const
/// SolveOptions&). @return empty if that is no help; if the spins contradict it, `contradictions` says so.
template <typename Solve>
std::optional<Solution> with_earlier_shafts(const FamilyPrior& prior, SolveOptions& options, Warnings& contradictions,
                                            Solve solve) {
  options.influence.prior = prior.coefficients;
  std::optional<Solution> solution = solve(options);
  if (solution && prior.of_rig && says(solution->influence.warnings, WarningCode::out_of_band) &&
      solution->influence.chi_squared_per_dof < contradicted_by) {
    options.influence.prior->covariance *= solution->influence.chi_squared_per_dof;
    solution = solve(options);
  }
  if (!solution) return std::nullopt;
  if (says(solution->influence.warnings, WarningCode::out_of_band)) {
    add_missing(contradictions, solution->influence.warnings);  // said, and not used
    return std::nullopt;
  }
  return coefficients_known(solution->influence) ? solution : std::nullopt;
}

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
  const bool goes = prior && prior_goes_with(*prior, readings_of(state), motions_of(state));
  if (goes) options.influence.prior = prior->coefficients;
  analysis.warnings = faults_of(job, state, options.influence, rig);
  add_statements(job, state, analysis);
  if (goes) {
    auto with_prior = with_earlier_shafts(*prior, options, analysis.warnings, [&](const SolveOptions& with) {
      return try_to_solve(job, state, with, analysis);
    });
    if (with_prior) {
      analysis.solution = std::move(with_prior);
      analysis.used_prior = true;
      analysis.solved_with = options;
      analysis.rig_taught_by = prior->of_rig ? prior->shafts : 0;
      analysis.brought_in = prior->brought_in;
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

Finding finding_of(const TaughtSolution& taught) {
  Finding finding = finding_of(taught.solution);
  finding.used_prior = taught.used_prior;
  finding.rig_taught_by = taught.rig_taught_by;
  finding.brought_in = taught.brought_in;
  return finding;
}

std::optional<Finding> finding_of(const Analysis& analysis) {
  if (!analysis.solution) return std::nullopt;
  Finding finding = finding_of(*analysis.solution);
  finding.used_prior = analysis.used_prior;
  finding.rig_taught_by = analysis.rig_taught_by;
  finding.brought_in = analysis.brought_in;
  return finding;
}

namespace {

std::optional<Solution> solution_or_none(const Rig& rig, const Shaft& shaft, const std::vector<SpinReading>& spins,
                                         const std::vector<Motion>& motions, const SolveOptions& options) {
  try {
    return solve_readings(rig, shaft, spins, motions, options);
  } catch (const Error&) {  // without a prior it is said why, if that does not do either
    return std::nullopt;
  }
}

/// With a prior a few spins may suffice for an answer: what is fitted after them is no trial weight.
bool give_correction(const Rig& rig, const Shaft& shaft, const std::vector<SpinReading>& spins,
                     const std::vector<Motion>& motions, const FamilyPrior& prior, const SolveOptions& options) {
  if (weights_suffice(spins, shaft.planes.size())) return true;
  Warnings contradictions;
  SolveOptions with_prior = options;
  const auto solution = with_earlier_shafts(prior, with_prior, contradictions, [&](const SolveOptions& with) {
    return solution_or_none(rig, shaft, spins, motions, with);
  });
  if (!solution) return false;
  Finding finding = finding_of(*solution);
  finding.used_prior = true;
  return gives_correction(finding);
}

}  // namespace

TaughtSolution solve_taught(const Rig& rig, const Shaft& shaft, const MeasuredSpins& spins,
                            const std::optional<FamilyPrior>& prior, const SolveOptions& options) {
  TaughtSolution taught;
  Warnings contradictions;
  std::optional<Solution> solution;
  const bool goes = prior && prior_goes_with(*prior, spins.readings, spins.motions) &&
                    spins.readings.back().speed_rad_s && one_speed(spins.readings, *spins.readings.back().speed_rad_s);
  if (goes) {
    SolveOptions with_prior = options;
    with_prior.trial_weights = trial_pieces(spins.readings, [&](const std::vector<SpinReading>& first) {
      return give_correction(rig, shaft, first, spins.motions, *prior, options);
    });
    solution = with_earlier_shafts(*prior, with_prior, contradictions, [&](const SolveOptions& with) {
      return solution_or_none(rig, shaft, spins.readings, spins.motions, with);
    });
  }
  taught.used_prior = solution.has_value();
  taught.rig_taught_by = solution && prior->of_rig ? prior->shafts : 0;
  taught.brought_in = solution ? prior->brought_in : 0;
  taught.solution =
      solution ? std::move(*solution) : solve_readings(rig, shaft, spins.readings, spins.motions, options);
  taught.solution.tracks = spins.tracks;
  hold_back(taught.solution.judgement, contradictions);
  add_missing(taught.solution.warnings, not_holding(contradictions));
  taught.solution.warnings = gathered(taught.solution.warnings);
  return taught;
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
