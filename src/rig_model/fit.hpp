#pragma once

#include <Eigen/Core>

#include "counterspot/rig_model/rig_model.hpp"
#include "rig_model/linear_rig.hpp"

namespace counterspot {

/// How often the covariance of the misfit, which hangs on θ, is taken anew.
enum class MisfitCovariance { once, until_settled };

/// Finds θ by damped Gauss–Newton (Levenberg–Marquardt) on its posterior, the covariance of the misfit taken at the
/// last θ; fills `theta`, `covariance` and `ln_evidence` of the model.
/// @return false if the numbers fail.
bool fit_theta(RigModel& model, MisfitCovariance covariances = MisfitCovariance::until_settled);

/// The whole problem as one Gaussian, linear around θ̂ with its prior: the misfit from the prior's mean, and the
/// inverse Q of its covariance.
struct Linearised {
  Assembled all;
  Eigen::VectorXd off;      ///< values less what the prior's mean makes of them
  Eigen::MatrixXd inverse;  ///< Q
};
Linearised linearised_around(const RigModel& model);

/// The scatters that make the lessons likeliest, with their priors, by Fisher scoring in logarithms.
/// @param which parts are sought; the others stay as they are.
void fit_scatter(RigModel& model, bool statistics);

/// Sets the sensors' angles to what the first lessons say, which a prior cannot know.
void start_angles(RigModel& model);

}  // namespace counterspot
