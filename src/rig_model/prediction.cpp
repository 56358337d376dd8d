#include <Eigen/Cholesky>

#include "rig_model/linear_rig.hpp"

namespace counterspot {

namespace {

using Eigen::MatrixXd;

/// The lessons, ready to foretell from.
struct Taught {
  const RigModel& model;
  Assembled all;
  Eigen::LLT<MatrixXd> noise;

  CoefficientPrior foretell(const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions,
                            double enlarge_u) const;
};

CoefficientPrior Taught::foretell(const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions,
                                  double enlarge_u) const {
  const LinearLesson linear = linearised(model.theta, model.steps, model.lessons.size(), shaft, speed_rad_s, motions);
  const Place here{shaft, speed_rad_s, linear};
  const ScatterParts sizes = parts_of(model.scatter).cwiseAbs2();
  MatrixXd with_lessons(all.misfit.size(), linear.alpha.size());
  for (std::size_t a = 0; a < model.lessons.size(); ++a) {
    const RigLesson& lesson = model.lessons[a];
    const Place there{lesson.shaft, lesson.speed_rad_s, all.linear[a]};
    with_lessons.middleRows(all.first(a), all.rows(a)) =
        lesson.rows * (sizes(2) * smooth_covariance(there, here) + sizes(3) * bed_covariance(there, here) +
                       sizes(4) * speed_covariance(there, here));
  }
  MatrixXd own = linear.by_shaft * linear.by_shaft.transpose() +
                 sizes(0) * linear.by_clamping * linear.by_clamping.transpose() +
                 sizes(2) * smooth_covariance(here, here) + sizes(3) * bed_covariance(here, here) +
                 sizes(4) * speed_covariance(here, here);
  own.diagonal() += sizes(1) * linear.size.cwiseAbs2();
  const MatrixXd weighted = noise.solve(with_lessons);
  const MatrixXd trend = linear.by_theta - weighted.transpose() * all.by_theta;
  CoefficientPrior prior;
  prior.mean = linear.alpha + weighted.transpose() * all.misfit;
  prior.covariance = enlarge_u * enlarge_u *
                     (own - with_lessons.transpose() * weighted + trend * model.covariance * trend.transpose());
  prior.covariance = 0.5 * (prior.covariance + prior.covariance.transpose().eval());
  return prior;
}

Taught taught_by(const RigModel& model) {
  Assembled all = assemble(model);
  Eigen::LLT<MatrixXd> noise(all.covariance(model.scatter));
  return {model, std::move(all), std::move(noise)};
}

}  // namespace

CoefficientPrior predict(const RigModel& model, const ShaftDynamics& shaft, double speed_rad_s,
                         const std::array<Motion, 2>& motions, const RigLearningOptions& options) {
  return taught_by(model).foretell(shaft, speed_rad_s, motions, options.enlarge_u);
}

std::vector<CoefficientPrior> predict(const RigModel& model, const ShaftDynamics& shaft,
                                      const std::vector<double>& speeds_rad_s, const std::array<Motion, 2>& motions,
                                      const RigLearningOptions& options) {
  const Taught taught = taught_by(model);
  std::vector<CoefficientPrior> priors;
  for (const double speed : speeds_rad_s) priors.push_back(taught.foretell(shaft, speed, motions, options.enlarge_u));
  return priors;
}

}  // namespace counterspot
