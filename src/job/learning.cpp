#include "counterspot/job/learning.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "counterspot/job/repeats.hpp"
#include "counterspot/job/rig_teaching.hpp"
#include "counterspot/units/error.hpp"
#include "influence/design_matrix.hpp"
#include "influence/regression.hpp"
#include "job/rig_lessons.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double tube_tolerance = 0.06;
constexpr double mass_tolerance = 0.12;
constexpr double position_tolerance = 0.04;
constexpr double speed_alike = 0.02;
constexpr double too_unlike = 12.0;  // to say anything of each other
constexpr int rounds = 25;           // of expectation–maximisation; it has settled long before

double apart(double one, double other, double tolerance) {
  return std::abs(one - other) / (tolerance * std::max(std::abs(one), std::abs(other)));
}

double span_of(const Shaft& shaft) {
  if (shaft.supports) return std::abs(shaft.supports->b_m - shaft.supports->a_m);
  return std::abs(shaft.planes.back().position_m - shaft.planes.front().position_m);
}

/// One earlier job, as the family sees it.
struct Lesson {
  Shaft shaft;
  SettingUncertainty setting;
  std::vector<SpinReading> spins;
  std::optional<VectorXd> own;  ///< its coefficients, if its spins alone give them
};

VectorXd stacked(const std::vector<CoefficientEstimate>& coefficients) {
  VectorXd alpha(2 * coefficients.size());
  for (std::size_t i = 0; i < coefficients.size(); ++i) {
    alpha(2 * static_cast<Index>(i)) = coefficients[i].value.real();
    alpha(2 * static_cast<Index>(i) + 1) = coefficients[i].value.imag();
  }
  return alpha;
}

std::vector<std::string> names_of(const std::vector<Plane>& planes) {
  std::vector<std::string> names;
  for (const Plane& plane : planes) names.push_back(plane.name);
  return names;
}

std::vector<std::string> names_of(const std::vector<Sensor>& sensors) {
  std::vector<std::string> names;
  for (const Sensor& sensor : sensors) names.push_back(sensor.name);
  return names;
}

std::optional<double> speed_of(const JobState& state) {
  return state.spins.empty() ? std::nullopt : state.spins.back().spun.speed_rad_s;
}

bool one_speed(const std::vector<SpinReading>& spins, double speed_rad_s) {
  return std::all_of(spins.begin(), spins.end(), [&](const SpinReading& spin) {
    return spin.speed_rad_s && std::abs(*spin.speed_rad_s / speed_rad_s - 1.0) < speed_alike;
  });
}

/// Then the adapters' unbalance would look like the shaft's.
bool turned_in_between(const std::vector<SpinReading>& spins) {
  return std::any_of(spins.begin(), spins.end(), [&](const SpinReading& spin) {
    return spin.turned_rad.value_or(0.0) != spins.front().turned_rad.value_or(0.0);
  });
}

/// Weights that differ between spins are what teaches.
bool weights_change(const std::vector<SpinReading>& spins) {
  return std::any_of(spins.begin(), spins.end(),
                     [&](const SpinReading& spin) { return !(spin.fitted == spins.front().fitted); });
}

std::optional<Lesson> lesson_of(const Job& job, const Rig& rig, const std::vector<Motion>& motions,
                                double speed_rad_s) {
  const JobState state = state_of(job.events);
  Lesson lesson{job.shaft(), {}, readings_of(state), {}};
  if (lesson.spins.size() < 2 || motions_of(state) != motions || names_of(job.rig().sensors) != names_of(rig.sensors))
    return std::nullopt;
  if (!uncertainties_known(lesson.spins) || !one_speed(lesson.spins, speed_rad_s) || !weights_change(lesson.spins) ||
      turned_in_between(lesson.spins))
    return std::nullopt;
  lesson.setting = job.rig().setting;
  for (SpinReading& spin : lesson.spins) spin = bring_to_speed(spin, motions, speed_rad_s);
  InfluenceOptions options;
  options.setting = lesson.setting;
  const auto own = solve_influence(lesson.spins, names_of(lesson.shaft.planes), names_of(rig.sensors), options);
  if (own.usable()) lesson.own = stacked(own.coefficients);
  return lesson;
}

/// μ and T of one family, in units in which the coefficients of each sensor are about one.
struct Family {
  VectorXd mean;
  MatrixXd scatter;        ///< T
  MatrixXd mean_variance;  ///< of μ
  int shafts = 0;
};

/// Where no job told its coefficients by itself: what all of them tell together.
std::optional<VectorXd> guess_together(const std::vector<const Lesson*>& lessons, Index planes) {
  MatrixXd matrix;
  VectorXd vector;
  for (const Lesson* lesson : lessons) {
    const auto information = information_of(lesson->spins, static_cast<int>(planes), lesson->setting,
                                            shortest_coefficients(lesson->spins, planes));
    matrix = matrix.size() == 0 ? information.matrix : MatrixXd(matrix + information.matrix);
    vector = vector.size() == 0 ? information.vector : VectorXd(vector + information.vector);
  }
  if (matrix.size() == 0) return std::nullopt;
  const Eigen::LDLT<MatrixXd> factor(matrix);
  constexpr double told = 1e-8;  // of the best known direction: below it some coefficient is anyone's guess
  if (!(factor.rcond() > told)) return std::nullopt;
  return VectorXd(factor.solve(vector));
}

std::optional<VectorXd> first_guess(const std::vector<const Lesson*>& lessons, Index planes) {
  VectorXd sum;
  int solved = 0;
  for (const Lesson* lesson : lessons) {
    if (!lesson->own) continue;
    sum = solved == 0 ? *lesson->own : VectorXd(sum + *lesson->own);
    ++solved;
  }
  if (solved == 0) return guess_together(lessons, planes);
  return VectorXd(sum / solved);
}

/// The usual size of each sensor's coefficients: against a small cross-coefficient the scatter of the large ones
/// counts.
VectorXd sizes_of(const VectorXd& alpha, Index planes) {
  VectorXd sizes(alpha.size());
  for (Index at = 0; at < alpha.size(); at += 2 * planes)
    sizes.segment(at, 2 * planes).setConstant(alpha.segment(at, 2 * planes).norm() / std::sqrt(planes));
  return sizes;
}

/// One round: E, what each shaft's coefficients are, given μ and T; M, what μ and T are, given those.
void improve(Family& family, const std::vector<CoefficientInformation>& lessons, const LearningOptions& options) {
  const Index size = family.mean.size();
  const MatrixXd identity = MatrixXd::Identity(size, size);
  const MatrixXd inverse = Eigen::LDLT<MatrixXd>(family.scatter).solve(identity);
  MatrixXd precision = MatrixXd::Zero(size, size);
  VectorXd weighted = VectorXd::Zero(size);
  std::vector<MatrixXd> posterior;
  for (const CoefficientInformation& lesson : lessons) {
    posterior.emplace_back(Eigen::LDLT<MatrixXd>(lesson.matrix + inverse).solve(identity));
    precision += inverse - inverse * posterior.back() * inverse;
    weighted += inverse * posterior.back() * lesson.vector;
  }
  // Far weaker than any shaft, so that a direction nobody has taught stays defined.
  const Eigen::LDLT<MatrixXd> of_mean(precision + 1e-4 * identity);
  family.mean = of_mean.solve(weighted + 1e-4 * family.mean);
  family.mean_variance = of_mean.solve(identity);
  MatrixXd sum = options.usual_scatter_worth * options.usual_scatter * options.usual_scatter * identity;
  for (std::size_t j = 0; j < lessons.size(); ++j) {
    const VectorXd off = posterior[j] * (lessons[j].vector + inverse * family.mean) - family.mean;
    sum += off * off.transpose() + posterior[j];
  }
  family.scatter = sum / (options.usual_scatter_worth + static_cast<double>(lessons.size()));
}

std::optional<Family> family_from(const std::vector<const Lesson*>& lessons, const VectorXd& sizes, Index planes,
                                  const LearningOptions& options) {
  const auto guess = first_guess(lessons, planes);
  if (!guess) return std::nullopt;
  std::vector<CoefficientInformation> scaled;
  for (const Lesson* lesson : lessons) {
    auto information =
        information_of(lesson->spins, static_cast<int>(planes), lesson->setting, lesson->own.value_or(*guess));
    scaled.push_back(
        {sizes.asDiagonal() * information.matrix * sizes.asDiagonal(), sizes.cwiseProduct(information.vector)});
  }
  const Index size = guess->size();
  Family family{guess->cwiseQuotient(sizes),
                options.usual_scatter * options.usual_scatter * MatrixXd::Identity(size, size),
                {},
                static_cast<int>(lessons.size())};
  for (int round = 0; round < rounds; ++round) improve(family, scaled, options);
  return family;
}

double scatter_of(const MatrixXd& scaled) {
  return std::sqrt(scaled.trace() / static_cast<double>(scaled.rows()));
}

FamilyPrior prior_of(const VectorXd& mean, const MatrixXd& covariance, const VectorXd& sizes) {
  FamilyPrior prior;
  prior.coefficients.mean = sizes.cwiseProduct(mean);
  prior.coefficients.covariance = sizes.asDiagonal() * covariance * sizes.asDiagonal();
  return prior;
}

std::optional<FamilyPrior> within_family(const std::vector<Lesson>& family_lessons, Index planes,
                                         const LearningOptions& options) {
  std::vector<const Lesson*> lessons;
  for (const Lesson& lesson : family_lessons) lessons.push_back(&lesson);
  const auto guess = first_guess(lessons, planes);
  if (!guess) return std::nullopt;
  const VectorXd sizes = sizes_of(*guess, planes);
  const auto family = family_from(lessons, sizes, planes, options);
  FamilyPrior prior = prior_of(family->mean, family->scatter + family->mean_variance, sizes);
  prior.shafts = family->shafts;
  prior.scatter = scatter_of(family->scatter);
  prior.coefficients.degrees_of_freedom = options.usual_scatter_worth + static_cast<double>(family->shafts);
  return prior;
}

struct Neighbour {
  Family family;
  double weight = 0.0;
};

/// Mean of the families around, the nearer the more; their differences count as further scatter.
std::optional<FamilyPrior> between_families(const std::vector<Lesson>& lessons, const Shaft& shaft, Index planes,
                                            const LearningOptions& options) {
  std::vector<std::vector<const Lesson*>> groups;
  std::vector<const Lesson*> all;
  for (const Lesson& lesson : lessons) {
    all.push_back(&lesson);
    auto home = std::find_if(groups.begin(), groups.end(),
                             [&](const auto& group) { return unlikeness(group.front()->shaft, lesson.shaft) <= 1.0; });
    if (home == groups.end()) home = groups.insert(groups.end(), std::vector<const Lesson*>());
    home->push_back(&lesson);
  }
  const auto guess = first_guess(all, planes);
  if (!guess) return std::nullopt;
  const VectorXd sizes = sizes_of(*guess, planes);
  std::vector<Neighbour> neighbours;
  double weights = 0.0;
  for (const auto& group : groups) {
    auto family = family_from(group, sizes, planes, options);
    if (!family) continue;
    const double unlike = unlikeness(group.front()->shaft, shaft);
    neighbours.push_back({*family, 1.0 / (unlike * unlike)});
    weights += neighbours.back().weight;
  }
  if (neighbours.size() < 2) return std::nullopt;
  VectorXd mean = VectorXd::Zero(guess->size());
  for (const Neighbour& each : neighbours) mean += each.weight / weights * each.family.mean;
  MatrixXd covariance = MatrixXd::Zero(mean.size(), mean.size());
  int shafts = 0;
  for (const Neighbour& each : neighbours) {
    const VectorXd off = each.family.mean - mean;
    // A mean of few families is itself unsure: their full spread, in every direction.
    covariance += each.weight / weights * (each.family.scatter + each.family.mean_variance + off * off.transpose());
    covariance += each.weight / weights * off.squaredNorm() / static_cast<double>(mean.size()) *
                  MatrixXd::Identity(mean.size(), mean.size());
    shafts += each.family.shafts;
  }
  FamilyPrior prior = prior_of(mean, covariance, sizes);
  prior.shafts = shafts;
  prior.scatter = scatter_of(covariance);
  prior.coefficients.degrees_of_freedom = options.usual_scatter_worth + static_cast<double>(neighbours.size());
  prior.between = true;
  return prior;
}

}  // namespace

double unlikeness(const Shaft& one, const Shaft& other) {
  constexpr double not_to_be_compared = 1e9;
  if (one.planes.size() != other.planes.size() || one.tube.has_value() != other.tube.has_value())
    return not_to_be_compared;
  double worst = 0.0;
  if (one.tube) {
    worst = std::max(worst, apart(one.tube->outside_diameter_m, other.tube->outside_diameter_m, tube_tolerance));
    worst = std::max(worst, apart(one.tube->wall_m, other.tube->wall_m, tube_tolerance));
    worst = std::max(worst, apart(one.tube->length_m, other.tube->length_m, tube_tolerance));
  }
  if (one.mass_kg && other.mass_kg) worst = std::max(worst, apart(*one.mass_kg, *other.mass_kg, mass_tolerance));
  const double span = std::max(span_of(one), span_of(other));
  for (std::size_t p = 0; p < one.planes.size() && span > 0.0; ++p) {
    const double moved = std::abs(one.planes[p].position_m - other.planes[p].position_m);
    worst = std::max(worst, moved / (position_tolerance * span));
  }
  return worst;
}

namespace {

/// A list of jobs on one rig, the newest first.
class ListedJobs : public EarlierJobs {
 public:
  ListedJobs(const std::vector<Job>& newest_first, std::string except, Teacher teacher)
      : jobs_(newest_first), except_(std::move(except)), teacher_(teacher) {}

  std::vector<Job> of_shafts_like(const Rig& /*all are of one*/, const Shaft& shaft,
                                  double unlike_at_most) const override {
    return chosen([&](const Job& each) { return unlikeness(each.shaft(), shaft) <= unlike_at_most; });
  }
  std::optional<RigModel> rig_model(const Rig& rig, const std::vector<Motion>& motions) const override {
    RigLearningOptions options;
    options.statistics = teacher_ == Teacher::rig;
    return taught_by({chosen([](const Job&) { return true; }), {}, {}}, rig, motions, options);
  }

 private:
  template <typename Wanted>
  std::vector<Job> chosen(Wanted wanted) const {
    std::vector<Job> jobs;
    std::copy_if(jobs_.begin(), jobs_.end(), std::back_inserter(jobs),
                 [&](const Job& each) { return each.uid != except_ && wanted(each); });
    return jobs;
  }

  const std::vector<Job>& jobs_;
  std::string except_;
  Teacher teacher_;
};

/// Of whom the lessons are, or those of them alone that were brought in.
int shafts_in(const RigModel& model, bool brought_in_alone = false) {
  std::set<std::string> uids;
  for (const RigLesson& lesson : model.lessons)
    if (lesson.brought_in || !brought_in_alone) uids.insert(lesson.job);
  return static_cast<int>(uids.size());
}

std::optional<FamilyPrior> from_rig(const EarlierJobs& earlier, const Rig& rig, const Shaft& shaft, double speed_rad_s,
                                    const std::vector<Motion>& motions, const LearningOptions& options) {
  const auto body = has_rig_model(rig) && motions.size() == 2 ? body_of(shaft) : std::nullopt;
  if (!body) return std::nullopt;
  const auto model = earlier.rig_model(rig, motions);
  if (!model) return std::nullopt;
  FamilyPrior prior;
  prior.coefficients = predict(*model, *body, speed_rad_s, {motions[0], motions[1]});
  prior.shafts = shafts_in(*model);
  prior.brought_in = shafts_in(*model, true);
  prior.coefficients.degrees_of_freedom = options.usual_scatter_worth + static_cast<double>(prior.shafts);
  prior.scatter = std::sqrt(prior.coefficients.covariance.trace() / prior.coefficients.mean.squaredNorm());
  prior.of_rig = true;
  prior.motions = motions;
  return prior;
}

}  // namespace

std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const Job& job, const LearningOptions& options) {
  const JobState state = state_of(job.events);
  const auto speed_rad_s = speed_of(state);
  if (!speed_rad_s) return std::nullopt;
  return prior_from(earlier, job.rig(), job.shaft(), motions_of(state), *speed_rad_s, options);
}

std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const Rig& rig, const Shaft& shaft,
                                      const std::vector<Motion>& motions, double speed_rad_s,
                                      const LearningOptions& options) {
  const auto planes = static_cast<Index>(shaft.planes.size());
  auto lessons_of_shafts = [&](double unlike_at_most) {
    std::vector<Lesson> lessons;
    for (const Job& each : earlier.of_shafts_like(rig, shaft, unlike_at_most)) {
      if (static_cast<int>(lessons.size()) == options.jobs_at_most) break;
      if (auto lesson = lesson_of(each, rig, motions, speed_rad_s)) lessons.push_back(std::move(*lesson));
    }
    return lessons;
  };
  auto prior = within_family(lessons_of_shafts(1.0), planes, options);
  const bool family = prior && prior->shafts >= options.family_from;
  if (!family && options.teacher != Teacher::family) {
    if (auto from_model = from_rig(earlier, rig, shaft, speed_rad_s, motions, options)) return from_model;
  }
  if (!prior) prior = between_families(lessons_of_shafts(too_unlike), shaft, planes, options);
  if (prior) prior->motions = motions;
  return prior;
}

std::optional<FamilyPrior> prior_from(const std::vector<Job>& past, const Job& job, const LearningOptions& options) {
  return prior_from(ListedJobs(past, job.uid, options.teacher), job, options);
}

void learn_from(const std::vector<Job>& past, const Rig& rig, const std::string& uid, RigKnowledge& knowledge) {
  constexpr std::size_t jobs_at_most = 60;  // of the newest, so that a slow change of the rig is followed
  constexpr std::size_t levels_at_most = 10;
  std::vector<std::vector<SpinReading>> jobs;
  for (const Job& job : past) {
    if (jobs.size() == jobs_at_most) break;
    if (job.uid == uid || names_of(job.rig().sensors) != names_of(rig.sensors)) continue;
    jobs.push_back(readings_of(state_of(job.events)));
    if (!jobs.back().empty() && knowledge.earlier.size() < levels_at_most)
      knowledge.earlier.push_back(jobs.back().back());
  }
  knowledge.repeat_fraction = repeat_fraction_of(jobs);
}

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
  std::vector<std::string> planes;
  for (const Plane& plane : job.shaft().planes) planes.push_back(plane.name);
  std::vector<std::string> sensors;
  for (const Sensor& sensor : job.rig().sensors) sensors.push_back(sensor.name);
  const std::vector<SpinReading> spins = readings_of(state);
  Warnings faults = compare_levels(spins, sensors, rig.earlier);
  std::vector<SpinReading> at_one_speed;
  for (const SpinReading& spin : spins) {
    if (!spin.speed_rad_s || !spins.back().speed_rad_s)
      at_one_speed.push_back(spin);
    else if (one_speed({spin}, *spins.back().speed_rad_s))
      at_one_speed.push_back(bring_to_speed(spin, motions_of(state), *spins.back().speed_rad_s));
  }
  const Warnings odd = compare_spins(at_one_speed, planes, sensors, options);
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

}  // namespace

namespace {

/// A shaft may be what the model of the rig does not foresee: up to this χ²/ν what is foretold is made so much less
/// sure; beyond it the spins and the model contradict one another, which is said.
constexpr double contradicted_by = 16.0;

bool prior_goes_with(const FamilyPrior& prior, const std::vector<SpinReading>& spins,
                     const std::vector<Motion>& motions) {
  return prior.motions == motions && uncertainties_known(spins) && !turned_in_between(spins);
}

/// Solves with the prior in the options. @param solve std::optional<Solution>(const SolveOptions&). @return empty if
/// that is no help; if the spins contradict it, `contradictions` says so.
template <typename Solve>
std::optional<Solution> solved_with(const FamilyPrior& prior, SolveOptions options, Warnings& contradictions,
                                    Solve solve) {
  options.influence.prior = prior.coefficients;
  std::optional<Solution> solution = solve(options);
  if (solution && prior.of_rig && says(solution->influence.warnings, WarningCode::out_of_band) &&
      solution->influence.chi_squared_per_dof < contradicted_by) {
    options.influence.prior->covariance *= solution->influence.chi_squared_per_dof;
    solution = solve(options);
  }
  if (!solution || !says(solution->influence.warnings, WarningCode::out_of_band)) return solution;
  add_missing(contradictions, solution->influence.warnings);  // said, and not used
  return std::nullopt;
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
  options.influence.setting = job.rig().setting;
  const bool goes = prior && prior_goes_with(*prior, readings_of(state), motions_of(state));
  if (goes) options.influence.prior = prior->coefficients;
  analysis.warnings = faults_of(job, state, options.influence, rig);
  take_statements(job, state, analysis);
  if (goes) {
    auto with_prior = solved_with(*prior, options, analysis.warnings,
                                  [&](const SolveOptions& with) { return try_to_solve(job, state, with, analysis); });
    if (with_prior) {
      analysis.solution = std::move(with_prior);
      analysis.used_prior = true;
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
  const auto solution = solved_with(prior, options, contradictions, [&](const SolveOptions& with) {
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
    solution = solved_with(*prior, with_prior, contradictions, [&](const SolveOptions& with) {
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
  MatrixXd covariance = influence.residual_covariance;
  if (base == Base::bare) covariance += influence.bare_covariance_change;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const PlaneUnbalance& plane = influence.planes[p];
    const double set =
        std::norm(base == Base::bare ? plane.bare_correction_kg_m : plane.correction_kg_m) *
        (rig.setting.mass_fraction * rig.setting.mass_fraction + rig.setting.angle_rad * rig.setting.angle_rad) / 2.0;
    const auto at = static_cast<Index>(2 * p);
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
