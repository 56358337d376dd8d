#pragma once

#include <Eigen/Core>
#include <array>

#include "counterspot/rig_model/rig_model.hpp"
#include "rig_model/linear_rig.hpp"

namespace counterspot {

/// What is thought of a rig before it has taught anything: normal, and independent but for mass and stiffness of a
/// pedestal whose natural frequency is known.
struct RigPrior {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
};

/// Of θ, with so many steps of sensors.
RigPrior rig_prior(const RigForm& form, const std::array<KnownPedestal, 2>& known, std::size_t steps);
/// Of a model's θ.
RigPrior rig_prior(const RigModel& model);

/// One standard deviation of what a changed sensor reads otherwise by, as a part and in rad.
inline constexpr double sensor_step_sd = 0.1;

/// Whatever is found to be lighter is no bed (common practice, no source).
inline constexpr double least_bed_kg = 100.0;

/// Of the logarithms of the scatters: mean and standard deviation, in the order of `parts_of`.
struct ScatterPrior {
  ScatterParts mean;
  ScatterParts sd;
};
ScatterPrior scatter_prior();

}  // namespace counterspot
