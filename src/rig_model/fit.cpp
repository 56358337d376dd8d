#include "rig_model/fit.hpp"

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <Eigen/SparseCore>
#include <array>
#include <cmath>

#include "rig_model/rig_prior.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int covariances_at_most = 12;  // they follow θ; each moves it a tenth to a thirtieth as far as the one before
constexpr int rounds_at_most = 40;
constexpr double hardly_likelier = 1e-6;  // in the logarithm, by other scatters
constexpr double settled = 1e-8;          // of a step's length squared, in standard deviations

VectorXd misfit_of(const RigModel& model, const VectorXd& theta) {
  Index size = 0;
  for (const RigLesson& lesson : model.lessons) size += lesson.values.size();
  VectorXd misfit(size);
  Index at = 0;
  for (std::size_t a = 0; a < model.lessons.size(); ++a) {
    const RigLesson& lesson = model.lessons[a];
    misfit.segment(at, lesson.values.size()) =
        lesson.values -
        lesson.rows * coefficients_at(theta, model.steps, a, lesson.shaft, lesson.speed_rad_s, lesson.motions);
    at += lesson.values.size();
  }
  return misfit;
}

MatrixXd slope_of(const RigModel& model, Index rows) {
  MatrixXd by_theta(rows, model.theta.size());
  Index at = 0;
  for (std::size_t a = 0; a < model.lessons.size(); ++a) {
    const RigLesson& lesson = model.lessons[a];
    by_theta.middleRows(at, lesson.values.size()) =
        lesson.rows * by_theta_of(model.theta, model.steps, a, lesson.shaft, lesson.speed_rad_s, lesson.motions);
    at += lesson.values.size();
  }
  return by_theta;
}

double ln_determinant(const Eigen::LLT<MatrixXd>& factor) {
  return 2.0 * factor.matrixLLT().diagonal().array().log().sum();
}

MatrixXd inverse_of(const MatrixXd& covariance) {
  return Eigen::LLT<MatrixXd>(covariance).solve(MatrixXd::Identity(covariance.rows(), covariance.cols()));
}

/// −2 ln posterior of θ at one covariance of the misfit, and its way down.
class Posterior {
 public:
  Posterior(const RigPrior& prior, const MatrixXd& covariance)
      : mean_(prior.mean), precision_(inverse_of(prior.covariance)), noise_(covariance) {}

  bool usable() const { return noise_.info() == Eigen::Success; }
  double cost(const RigModel& model, const VectorXd& theta) const {
    const VectorXd misfit = noise_.matrixL().solve(misfit_of(model, theta));
    return misfit.squaredNorm() + (theta - mean_).dot(precision_ * (theta - mean_));
  }
  MatrixXd curvature(const MatrixXd& by_theta) const {
    return by_theta.transpose() * noise_.solve(by_theta) + precision_;
  }
  /// @return the squared length of the way θ went.
  double go_down(RigModel& model) const;
  double ln_noise() const { return ln_determinant(noise_); }

 private:
  VectorXd mean_;
  MatrixXd precision_;
  Eigen::LLT<MatrixXd> noise_;
};

double Posterior::go_down(RigModel& model) const {
  const VectorXd begun = model.theta;
  double damping = 1e-3;
  double present = cost(model, model.theta);
  MatrixXd now;
  for (int round = 0; round < rounds_at_most; ++round) {
    const VectorXd misfit = misfit_of(model, model.theta);
    const MatrixXd by_theta = slope_of(model, misfit.size());
    now = curvature(by_theta);
    const VectorXd downhill = by_theta.transpose() * noise_.solve(misfit) - precision_ * (model.theta - mean_);
    double length = 0.0;
    bool better = false;
    for (int attempt = 0; attempt < 12 && !better; ++attempt) {
      MatrixXd damped = now;
      damped.diagonal() *= 1.0 + damping;
      const VectorXd step = Eigen::LLT<MatrixXd>(damped).solve(downhill);
      length = step.dot(now * step);
      if (length < settled) break;
      const double then = cost(model, model.theta + step);
      better = then < present;
      if (better) {
        model.theta += step;
        present = then;
      }
      damping = better ? std::max(1e-9, 0.1 * damping) : 10.0 * damping;
    }
    if (!better) break;
  }
  const VectorXd way = model.theta - begun;
  return way.dot(now * way);
}

}  // namespace

bool fit_theta(RigModel& model, MisfitCovariance covariances) {
  const RigPrior prior = rig_prior(model);
  const int at_most = covariances == MisfitCovariance::once ? 1 : covariances_at_most;
  for (int round = 0; round < at_most; ++round) {
    const Assembled all = assemble(model);
    const Posterior posterior(prior, all.covariance(model.scatter));
    if (!posterior.usable()) return false;
    const bool last = posterior.go_down(model) < settled || round + 1 == at_most;
    if (!last) continue;
    const MatrixXd curvature = posterior.curvature(slope_of(model, all.misfit.size()));
    const Eigen::LLT<MatrixXd> factor(curvature);
    if (factor.info() != Eigen::Success) return false;
    model.covariance = factor.solve(MatrixXd::Identity(curvature.rows(), curvature.cols()));
    model.ln_evidence = -0.5 * (posterior.cost(model, model.theta) + posterior.ln_noise() + ln_determinant(factor) +
                                ln_determinant(Eigen::LLT<MatrixXd>(prior.covariance)));
    break;
  }
  for (std::size_t i = 0; i < model.steps.size(); ++i) {
    const Index at = model.of_step(i);
    model.steps[i].ln_gain = model.theta(at);
    model.steps[i].gain_rad = model.theta(at + 1);
  }
  return true;
}

Linearised linearised_around(const RigModel& model) {
  const RigPrior prior = rig_prior(model);
  Linearised linear{assemble(model), {}, {}};
  linear.off = linear.all.misfit + linear.all.by_theta * (model.theta - prior.mean);
  MatrixXd covariance = linear.all.covariance(model.scatter);
  covariance += linear.all.by_theta * prior.covariance * linear.all.by_theta.transpose();
  linear.inverse = Eigen::LLT<MatrixXd>(covariance).solve(MatrixXd::Identity(covariance.rows(), covariance.cols()));
  return linear;
}

void fit_scatter(RigModel& model, bool statistics) {
  const RigPrior prior = rig_prior(model);
  const ScatterPrior usual = scatter_prior();
  const Index sought = statistics ? 5 : 2;  // physics alone: clamping, and each shaft's own
  const Assembled all = assemble(model);
  const VectorXd off = all.misfit + all.by_theta * (model.theta - prior.mean);
  const MatrixXd of_theta = all.by_theta * prior.covariance * all.by_theta.transpose();
  ScatterParts logs = parts_of(model.scatter).cwiseMax(1e-6).array().log();
  auto posterior = [&](const ScatterParts& at, MatrixXd* inverse) {
    RigScatter scatter = scatter_of(at.array().exp());
    if (!statistics) scatter = physics_alone(scatter);
    const MatrixXd covariance = all.covariance(scatter) + of_theta;
    const Eigen::LLT<MatrixXd> factor(covariance);
    if (inverse != nullptr) *inverse = factor.solve(MatrixXd::Identity(covariance.rows(), covariance.cols()));
    const ScatterParts from = (at - usual.mean).cwiseQuotient(usual.sd);
    return -0.5 * (off.dot(factor.solve(off)) + ln_determinant(factor) + from.head(sought).squaredNorm());
  };
  // Clamping and what is each shaft's own hang together within a job only.
  const std::array<Eigen::SparseMatrix<double>, 2> within_jobs{all.parts[0].sparseView(), all.parts[1].sparseView()};
  MatrixXd inverse;
  double present = posterior(logs, &inverse);
  for (int round = 0; round < 30; ++round) {
    const VectorXd weighted = inverse * off;
    VectorXd uphill(sought);
    MatrixXd information = MatrixXd::Zero(sought, sought);
    std::vector<MatrixXd> turned;
    for (Index i = 0; i < sought; ++i) {
      const auto part = static_cast<std::size_t>(i);
      const double slope = 2.0 * std::exp(2.0 * logs(i));
      if (i < 2)
        turned.emplace_back(slope * (inverse * within_jobs[part]));
      else
        turned.emplace_back(slope * inverse * all.parts[part]);
      uphill(i) = 0.5 * (slope * weighted.dot(all.parts[part] * weighted) - turned.back().trace()) -
                  (logs(i) - usual.mean(i)) / (usual.sd(i) * usual.sd(i));
    }
    for (Index i = 0; i < sought; ++i)
      for (Index k = 0; k < sought; ++k)
        information(i, k) =
            0.5 *
            turned[static_cast<std::size_t>(i)].cwiseProduct(turned[static_cast<std::size_t>(k)].transpose()).sum();
    information.diagonal() += usual.sd.head(sought).array().square().inverse().matrix();
    VectorXd step = Eigen::LLT<MatrixXd>(information).solve(uphill);
    if (step.norm() > 1.0) step /= step.norm();
    double then = present;
    ScatterParts tried = logs;
    for (int halving = 0; halving < 8; ++halving, step *= 0.5) {
      tried.head(sought) = logs.head(sought) + step;
      then = posterior(tried, nullptr);
      if (then > present) break;
    }
    if (!(then > present + hardly_likelier)) break;
    logs = tried;
    present = posterior(logs, &inverse);
  }
  model.scatter = scatter_of(logs.array().exp());
  if (!statistics) model.scatter = physics_alone(model.scatter);
}

void start_angles(RigModel& model) {
  constexpr std::size_t lessons_at_most = 5;
  constexpr double loose = 0.3;  // of the coefficients: what the prior's mean may be wrong by
  MatrixXd normal = MatrixXd::Zero(4, 4);
  VectorXd right = VectorXd::Zero(4);
  for (std::size_t a = 0; a < std::min(lessons_at_most, model.lessons.size()); ++a) {
    const RigLesson& lesson = model.lessons[a];
    const VectorXd alpha = rig_coefficients(model.theta, lesson.shaft, lesson.speed_rad_s, lesson.motions);
    const Index each = alpha.size() / 2;
    MatrixXd columns = MatrixXd::Zero(alpha.size(), 4);  // factor of sensor s: x_2s + j x_2s+1
    for (Index s = 0; s < 2; ++s) {
      for (Index at = s * each; at < (s + 1) * each; at += 2) {
        columns.block<2, 2>(at, 2 * s) << alpha(at), -alpha(at + 1), alpha(at + 1), alpha(at);
      }
    }
    const MatrixXd rows = lesson.rows * columns;
    MatrixXd noise = loose * loose * lesson.rows * alpha.cwiseAbs2().asDiagonal() * lesson.rows.transpose();
    noise.diagonal().array() += 1.0;
    const Eigen::LLT<MatrixXd> factor(noise);
    normal += rows.transpose() * factor.solve(rows);
    right += rows.transpose() * factor.solve(lesson.values);
  }
  const VectorXd factors = normal.completeOrthogonalDecomposition().solve(right);
  for (Index s = 0; s < 2; ++s)
    model.theta(RigParameters::gain_rad(s)) += std::atan2(factors(2 * s + 1), factors(2 * s));
}

}  // namespace counterspot
