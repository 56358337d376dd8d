#include "counterspot/learning/learning.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <set>

#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/solve/repeats.hpp"
#include "influence/design_matrix.hpp"
#include "influence/regression.hpp"
#include "learning/alike_spins.hpp"
#include "learning/rig_lessons.hpp"
#include "model/names.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double tube_tolerance = 0.06;
constexpr double mass_tolerance = 0.12;
constexpr double position_tolerance = 0.04;
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

std::optional<double> speed_of(const ShaftSpins& job) {
  return job.spins.empty() ? std::nullopt : job.spins.back().speed_rad_s;
}

/// Weights that differ between spins are what teaches.
bool weights_change(const std::vector<SpinReading>& spins) {
  return std::any_of(spins.begin(), spins.end(),
                     [&](const SpinReading& spin) { return !(spin.fitted == spins.front().fitted); });
}

std::optional<Lesson> lesson_of(const ShaftSpins& job, const Rig& rig, const std::vector<Motion>& motions,
                                double speed_rad_s) {
  Lesson lesson{job.shaft(), {}, job.spins, {}};
  if (lesson.spins.size() < 2 || job.motions != motions || names_of(job.rig().sensors) != names_of(rig.sensors))
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
  ListedJobs(const std::vector<ShaftSpins>& newest_first, std::string except, Teacher teacher)
      : jobs_(newest_first), except_(std::move(except)), teacher_(teacher) {}

  std::vector<ShaftSpins> of_shafts_like(const Rig& /*all are of one*/, const Shaft& shaft,
                                         double unlike_at_most) const override {
    return chosen([&](const ShaftSpins& each) { return unlikeness(each.shaft(), shaft) <= unlike_at_most; });
  }
  std::optional<RigModel> rig_model(const Rig& rig, const std::vector<Motion>& motions) const override {
    RigLearningOptions options;
    options.statistics = teacher_ == Teacher::rig;
    return taught_by({chosen([](const ShaftSpins&) { return true; }), {}, {}}, rig, motions, options);
  }

 private:
  template <typename Wanted>
  std::vector<ShaftSpins> chosen(Wanted wanted) const {
    std::vector<ShaftSpins> jobs;
    std::copy_if(jobs_.begin(), jobs_.end(), std::back_inserter(jobs),
                 [&](const ShaftSpins& each) { return each.uid != except_ && wanted(each); });
    return jobs;
  }

  const std::vector<ShaftSpins>& jobs_;
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
  const auto body = has_rig_model(rig, motions) ? body_of(shaft) : std::nullopt;
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

std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const ShaftSpins& job,
                                      const LearningOptions& options) {
  const auto speed_rad_s = speed_of(job);
  if (!speed_rad_s) return std::nullopt;
  return prior_from(earlier, job.rig(), job.shaft(), job.motions, *speed_rad_s, options);
}

std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const Rig& rig, const Shaft& shaft,
                                      const std::vector<Motion>& motions, double speed_rad_s,
                                      const LearningOptions& options) {
  const auto planes = static_cast<Index>(shaft.planes.size());
  auto lessons_of_shafts = [&](double unlike_at_most) {
    std::vector<Lesson> lessons;
    for (const ShaftSpins& each : earlier.of_shafts_like(rig, shaft, unlike_at_most)) {
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

std::optional<FamilyPrior> prior_from(const std::vector<ShaftSpins>& past, const ShaftSpins& job,
                                      const LearningOptions& options) {
  return prior_from(ListedJobs(past, job.uid, options.teacher), job, options);
}

void learn_from(const std::vector<ShaftSpins>& past, const Rig& rig, const std::string& uid, RigKnowledge& knowledge) {
  constexpr std::size_t jobs_at_most = 60;  // of the newest, so that a slow change of the rig is followed
  constexpr std::size_t levels_at_most = 10;
  std::vector<std::vector<SpinReading>> jobs;
  for (const ShaftSpins& job : past) {
    if (jobs.size() == jobs_at_most) break;
    if (job.uid == uid || names_of(job.rig().sensors) != names_of(rig.sensors)) continue;
    jobs.push_back(job.spins);
    if (!jobs.back().empty() && knowledge.earlier.size() < levels_at_most)
      knowledge.earlier.push_back(jobs.back().back());
  }
  knowledge.repeat_fraction = repeat_fraction_of(jobs);
}

}  // namespace counterspot
