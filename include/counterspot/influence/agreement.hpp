#pragma once

#include <Eigen/Core>
#include <limits>
#include <optional>
#include <vector>

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// What all other spins, the weights stated and a prior, if there is one, lead one to expect of a spin at one sensor.
struct ExpectedReading {
  Phasor value;                ///< SI
  Eigen::Matrix2d covariance;  ///< of what was read less `value`: all noise, the setting of the weights, the prior's
  double chi_squared = 0.0;    ///< of what was read less `value`, two degrees of freedom

  double u() const;  ///< standard uncertainty of either part
};

/// How far the spins of one speed agree with one another.
struct Agreement {
  /// [spin][sensor]; empty where the other spins do not determine it.
  std::vector<std::vector<std::optional<ExpectedReading>>> expected;
  std::vector<double> without;  ///< [spin]: the chi-squared that would be left without it
  double chi_squared = 0.0;
  int degrees_of_freedom = 0;  ///< of it; 0: nothing can be tested
};

/// Deleted residuals of the regression: with V the covariance of all readings and X the unknown columns,
///   Q = V⁻¹ − V⁻¹X(XᵀV⁻¹X)⁺XᵀV⁻¹,   read − expected of spin k = Q_kk⁻¹(Qz)_k, of covariance Q_kk⁻¹
/// (R. D. Cook & S. Weisberg, *Residuals and Influence in Regression*, 1982, 2.2, here for correlated errors).
/// A prior's rows count among z as they do in the regression.
/// @param coefficients S·P, sensor-major, for the size of the setting errors.
/// @param spins at one speed, all with a known uncertainty.
Agreement agreement_of(const std::vector<SpinReading>& spins, int plane_count, const std::vector<Phasor>& coefficients,
                       const InfluenceOptions& options);

/// Whether a chi-squared is beyond what chance makes of it once in a thousand.
/// @param of_covariance degrees of freedom of the covariance that it was taken with; then it is over its own degrees of
/// freedom an F.
bool beyond_chance(double chi_squared, int degrees_of_freedom,
                   double of_covariance = std::numeric_limits<double>::infinity());

}  // namespace counterspot
