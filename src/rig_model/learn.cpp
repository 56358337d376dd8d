#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <utility>

#include "rig_model/fit.hpp"
#include "rig_model/rig_prior.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double clearly_better = 6.0;  // in the logarithm of the evidence
constexpr std::size_t faults_at_most = 8;
constexpr std::size_t lessons_to_find_faults = 4;

/// A job that does not fit, or a sensor that was changed.
struct Fault {
  double gain = 0.0;  ///< what taking it in adds to the logarithm of the evidence
  std::optional<SetAside> job;
  std::optional<SensorStep> step;
};

/// Leave-one-out: d² = (Qz)_jᵀ Q_jj⁻¹ (Qz)_j with covariance Q_jj⁻¹ of the residual (Cook & Weisberg 1982, 2.2, for
/// correlated errors). Enlarging a job's own scatter to fit it makes it ½(d² − n − n ln(d²/n)) likelier.
Fault worst_job(const RigModel& model, const Linearised& linear) {
  Fault worst;
  const VectorXd weighted = linear.inverse * linear.off;
  for (std::size_t a = 0; a < model.lessons.size(); ++a) {
    const Index at = linear.all.first(a);
    const Index rows = linear.all.rows(a);
    const bool known = std::any_of(model.set_aside.begin(), model.set_aside.end(),
                                   [&](const SetAside& each) { return each.lesson == a; });
    if (known || rows == 0) continue;
    const MatrixXd block = linear.inverse.block(at, at, rows, rows);
    const VectorXd part = weighted.segment(at, rows);
    const double distance = part.dot(Eigen::LLT<MatrixXd>(block).solve(part));
    const auto degrees = static_cast<double>(rows);
    if (distance <= degrees) continue;
    const double gain = 0.5 * (distance - degrees - degrees * std::log(distance / degrees));
    if (gain > worst.gain) worst = {gain, SetAside{a, distance, static_cast<int>(rows)}, std::nullopt};
  }
  return worst;
}

/// From which lesson on which sensor reads otherwise: two more parameters, whose evidence follows from Q.
Fault likeliest_step(const RigModel& model, const Linearised& linear) {
  Fault best;
  const VectorXd weighted = linear.inverse * linear.off;
  const std::size_t lessons = model.lessons.size();
  for (Index pedestal = 0; pedestal < 2; ++pedestal) {
    MatrixXd effect = MatrixXd::Zero(linear.off.size(), 2);
    for (std::size_t from = lessons; from-- > 1;) {  // the step moves back over the lessons
      const MatrixXd& by_theta = linear.all.linear[from].by_theta;
      const Index at = linear.all.first(from);
      effect.middleRows(at, linear.all.rows(from)) =
          sensor_step_sd * model.lessons[from].rows * by_theta.middleCols(RigParameters::ln_gain(pedestal), 2);
      if (from + 2 > lessons) continue;  // two lessons after it, at least
      const Eigen::Matrix2d seen = Eigen::Matrix2d::Identity() + effect.transpose() * linear.inverse * effect;
      const Eigen::Vector2d pull = effect.transpose() * weighted;
      const Eigen::LLT<Eigen::Matrix2d> factor(seen);
      const double gain = 0.5 * pull.dot(factor.solve(pull)) - factor.matrixLLT().diagonal().array().log().sum();
      if (gain > best.gain) best = {gain, std::nullopt, SensorStep{from, pedestal, 0.0, 0.0}};
    }
  }
  return best;
}

/// The job's own noise becomes three times what its residual shows, with the covariance of that residual; its rows are
/// whitened anew.
void set_aside(RigModel& model, const Linearised& linear, const SetAside& job) {
  RigLesson& lesson = model.lessons[job.lesson];
  const Index at = linear.all.first(job.lesson);
  const Index rows = linear.all.rows(job.lesson);
  const MatrixXd residual = linear.inverse.block(at, at, rows, rows).llt().solve(MatrixXd::Identity(rows, rows));
  const MatrixXd noise = MatrixXd::Identity(rows, rows) + 3.0 * job.chi_squared / job.degrees * residual;
  const Eigen::LLT<MatrixXd> factor(noise);
  lesson.values = factor.matrixL().solve(lesson.values);
  lesson.rows = factor.matrixL().solve(lesson.rows);
  model.set_aside.push_back(job);
  model.set_aside.back().ln_enlarged = factor.matrixLLT().diagonal().array().log().sum();
}

void add_step(RigModel& model, const SensorStep& step) {
  model.steps.push_back(step);
  model.theta.conservativeResize(model.theta.size() + 2);
  model.theta.tail<2>().setZero();
}

/// Up to a constant; of those that are there at all.
double ln_prior(const RigScatter& scatter) {
  const ScatterPrior usual = scatter_prior();
  const ScatterParts parts = parts_of(scatter);
  double sum = 0.0;
  for (Index i = 0; i < parts.size(); ++i)
    if (parts(i) > 0.0) sum -= 0.5 * std::pow((std::log(parts(i)) - usual.mean(i)) / usual.sd(i), 2);
  return sum;
}

/// θ and scatters in turn; the scatters hardly move θ.
bool fit_all(RigModel& model, const RigLearningOptions& options) {
  constexpr int turns_at_most = 6;
  constexpr double alike = 0.02;  // in the scatters' logarithms
  for (int turn = 0; turn < turns_at_most; ++turn) {
    if (!fit_theta(model)) return false;
    const RigScatter before = model.scatter;
    fit_scatter(model, options.statistics);
    const ScatterParts moved = (parts_of(model.scatter).array().max(1e-9) / parts_of(before).array().max(1e-9)).log();
    if (moved.cwiseAbs().maxCoeff() < alike) return true;
  }
  return true;
}

enum class Scatters { as_they_are, fitted };

bool mend_faults(RigModel& model, Scatters scatters, const RigLearningOptions& options) {
  for (std::size_t found = 0; found < faults_at_most; ++found) {
    const Linearised linear = linearised_around(model);
    const Fault job = worst_job(model, linear);
    const Fault step = likeliest_step(model, linear);
    const Fault& fault = step.gain > job.gain ? step : job;
    if (fault.gain < clearly_better) break;
    if (fault.step) add_step(model, *fault.step);
    if (fault.job) set_aside(model, linear, *fault.job);
    if (!fit_theta(model)) return false;
    if (scatters == Scatters::fitted) fit_scatter(model, options.statistics);
  }
  return true;
}

std::size_t faults_of(const RigModel& model) {
  return model.set_aside.size() + model.steps.size();
}

/// Comparable between models of the same lessons: of the lessons as they came, each fault being as unlikely beforehand
/// as what it has to gain.
double evidence_of(const RigModel& model) {
  double sum = model.ln_evidence + ln_prior(model.scatter) - clearly_better * static_cast<double>(faults_of(model));
  for (const SetAside& job : model.set_aside) sum -= job.ln_enlarged;
  return sum;
}

bool fit_and_mend(RigModel& model, const RigLearningOptions& options) {
  return fit_all(model, options) &&
         (!options.faults || (mend_faults(model, Scatters::fitted, options) && fit_all(model, options)));
}

/// Scatters and faults. Scatters fitted first, one wrong job may pass for a rig on which all shafts differ more; faults
/// looked for first, on a rig on which they do differ more, many jobs pass for wrong. The likelier of the two counts.
bool fit_rig(RigModel& model, RigLearningOptions options) {
  options.faults = options.faults && model.lessons.size() >= lessons_to_find_faults;
  RigModel faults_first = model;
  bool found = options.faults && mend_faults(faults_first, Scatters::as_they_are, options);
  found = found && faults_of(faults_first) > 0 && fit_and_mend(faults_first, options);
  const bool fitted = fit_and_mend(model, options);
  if (found && (!fitted || evidence_of(faults_first) > evidence_of(model))) model = std::move(faults_first);
  return found || fitted;
}

/// Slowest and fastest.
std::pair<double, double> speeds_of(const std::vector<RigLesson>& lessons) {
  const auto [slowest, fastest] = std::minmax_element(
      lessons.begin(), lessons.end(),
      [](const RigLesson& one, const RigLesson& other) { return one.speed_rad_s < other.speed_rad_s; });
  return {slowest->speed_rad_s, fastest->speed_rad_s};
}

/// At several of a bed's resonances, since between two the likelihood has a dip.
std::vector<VectorXd> starts_with_bed(const VectorXd& usual) {
  constexpr double apart = 0.45;  // in the logarithm
  std::vector<VectorXd> starts = {usual};
  for (const double move : {-apart, apart}) {
    for (const double tilt : {-apart, apart}) {
      starts.push_back(usual);
      starts.back()(RigParameters::bed_ln_move) += move;
      starts.back()(RigParameters::bed_ln_tilt) += tilt;
    }
  }
  return starts;
}

/// One more body, hung on either pedestal, at several frequencies among the speeds of the lessons.
std::vector<VectorXd> starts_with_attached(const VectorXd& without, const VectorXd& usual,
                                           const std::vector<RigLesson>& lessons) {
  constexpr double root_kg = 0.7;
  const auto [slowest, fastest] = speeds_of(lessons);
  const Index first = without.size();
  std::vector<VectorXd> starts;
  for (const Index pedestal : {0, 1}) {
    for (const double part : {0.2, 0.5, 0.8}) {
      starts.push_back(usual);
      starts.back().head(first) = without;
      starts.back()(first + RigParameters::attached_to(pedestal)) = root_kg;
      starts.back()(first + RigParameters::attached_ln_rate) =
          std::log(slowest / turn_rad) + part * std::log(fastest / slowest);
    }
  }
  return starts;
}

/// The likeliest θ from several starts, with the usual scatters.
std::optional<RigModel> model_of(const std::vector<RigLesson>& lessons, const RigForm& form,
                                 const RigLearningOptions& options) {
  std::vector<VectorXd> starts = {options.start ? *options.start : rig_prior(form, options.pedestals, 0).mean};
  if (!options.start && form.bodies.attached > 0) {
    const auto without = model_of(lessons, {form.kind, {form.bodies.bed, form.bodies.attached - 1}}, options);
    if (!without) return std::nullopt;
    starts = starts_with_attached(without->theta, starts.front(), lessons);
  } else if (!options.start && form.bodies.bed) {
    starts = starts_with_bed(starts.front());
  }
  std::optional<RigModel> best;
  for (const VectorXd& start : starts) {
    RigModel model;
    model.kind = form.kind;
    model.lessons = lessons;
    if (!options.statistics) model.scatter = physics_alone(model.scatter);
    model.pedestals = options.pedestals;
    model.theta = start;
    if (!options.start) start_angles(model);
    const bool fitted = starts.size() == 1 || fit_theta(model, MisfitCovariance::once);
    if (fitted && (!best || model.ln_evidence > best->ln_evidence)) best = std::move(model);
  }
  return best && fit_theta(*best) ? best : std::nullopt;
}

/// Empty if the numbers fail, or for a bed that cannot be one: a light body that swings is something else.
std::optional<RigModel> learnt(const std::vector<RigLesson>& lessons, const RigForm& form,
                               const RigLearningOptions& options) {
  auto model = model_of(lessons, form, options);
  if (model && options.scatters && !fit_rig(*model, options)) return std::nullopt;
  if (model && form.bodies.bed && model->theta(RigParameters::bed_ln_mass) < std::log(least_bed_kg))
    return std::nullopt;
  return model;
}

/// The likeliest of several forms.
struct Choice {
  const std::vector<RigLesson>& lessons;
  RigLearningOptions options;
  std::optional<RigForm> form = {};
  double ln_evidence = 0.0;

  void consider(const RigForm& other) {
    const auto model = learnt(lessons, other, options);
    if (!model) return;
    const double ln_of_other = evidence_of(*model) - other.bodies.count() * clearly_better;
    if (form && ln_of_other <= ln_evidence) return;
    form = other;
    ln_evidence = ln_of_other;
  }
};

/// Soft or hard, with bodies beside the pedestals or not: the likeliest once its scatters are fitted and its faults
/// found too. With the usual ones a rig whose shafts differ more than usual passes for the other kind (8 of 100
/// simulated at one speed), and then every number of it is wrong. The newest lessons tell it well enough. At one speed
/// no body adds anything; soft pedestals hardly move a bed. Empty if the numbers fail.
std::optional<RigForm> likeliest_form(const std::vector<RigLesson>& lessons, RigLearningOptions options) {
  constexpr std::ptrdiff_t enough = 12;
  constexpr double several_speeds = 1.1;  // the fastest over the slowest
  const auto count = std::min(enough, static_cast<std::ptrdiff_t>(lessons.size()));
  const std::vector<RigLesson> newest(lessons.end() - count, lessons.end());
  options.start.reset();
  options.scatters = true;
  Choice choice{newest, std::move(options)};
  choice.consider({RigKind::soft});
  choice.consider({RigKind::hard});
  const auto [slowest, fastest] = speeds_of(newest);
  if (fastest < several_speeds * slowest) return choice.form;
  choice.consider({RigKind::hard, {.bed = true}});
  for (int attached = 1; choice.form && attached <= RigBodies::attached_at_most; ++attached) {
    const RigForm more{choice.form->kind, {choice.form->bodies.bed, attached}};
    choice.consider(more);
    if (choice.form != more) break;
  }
  return choice.form;
}

}  // namespace

std::optional<RigModel> learn_rig(const std::vector<RigLesson>& lessons, const RigLearningOptions& options) {
  if (lessons.empty()) return std::nullopt;
  const auto form = options.form ? options.form : likeliest_form(lessons, options);
  if (!form) return std::nullopt;
  auto model = learnt(lessons, *form, options);
  if (model || form->bodies == RigBodies{}) return model;
  RigLearningOptions alone = options;
  alone.start.reset();
  return learnt(lessons, {form->kind}, alone);
}

}  // namespace counterspot
