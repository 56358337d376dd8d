#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "counterspot/influence.hpp"

namespace counterspot {

/// The regression with a prior of the coefficients. All sensors at once, since the prior ties them together and a badly
/// set piece errs the same way in all of them:
///   z = A x + ε + Σ_i E_i δ_i,   x = (Z_0, α) of every sensor,   α ~ N(m, V),   Z_0 flat,
///   Λ = AᵀR⁻¹A + V⁻¹,   x̂ = Λ⁻¹(AᵀR⁻¹z + V⁻¹m)
/// (A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., 14.8: regression with prior information).
InfluenceSummary update_prior(const std::vector<SpinReading>& spins, const std::vector<std::string>& planes,
                              const std::vector<std::string>& sensors, const InfluenceOptions& options);

/// What a set of spins says of the coefficients alone, Z_0 integrated out: log-likelihood −½αᵀIα + hᵀα. I is singular
/// if the spins do not tell everything.
struct CoefficientInformation {
  Eigen::MatrixXd matrix;  ///< I, 2SP×2SP
  Eigen::VectorXd vector;  ///< h, 2SP
};
/// @param guess of the coefficients, for the size of the setting errors.
CoefficientInformation information_of(const std::vector<SpinReading>& spins, int plane_count,
                                      const SettingUncertainty& setting, const Eigen::VectorXd& guess);

}  // namespace counterspot
