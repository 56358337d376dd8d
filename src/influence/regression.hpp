#pragma once

#include <Eigen/Core>
#include <vector>

#include "influence/design_matrix.hpp"

namespace counterspot {

/// One sensor's share of the regression, in real numbers: unknowns x = (Re Z_0, Im Z_0, Re α_1, Im α_1, …).
struct SensorRegression {
  Eigen::VectorXd unknowns;       ///< 2(1+P)
  Eigen::MatrixXd estimator;      ///< 2(1+P)×2K: x = H z, so that an error of z goes on to x
  Eigen::MatrixXd covariance;     ///< of x
  Eigen::MatrixXd reading_noise;  ///< 2K×2K, block diagonal: the spins' own covariances
  double chi_squared = 0.0;

  Phasor as_found() const { return {unknowns(0), unknowns(1)}; }
  /// B of a design that is turned.
  Phasor adapters() const { return {unknowns(unknowns.size() - 2), unknowns(unknowns.size() - 1)}; }
  Phasor coefficient(int plane) const { return {unknowns(2 + 2 * plane), unknowns(3 + 2 * plane)}; }
  Eigen::Matrix2d coefficient_covariance(int plane) const {
    return covariance.block<2, 2>(2 + 2 * plane, 2 + 2 * plane);
  }
};

/// How an error of one fitted piece shows in one sensor's readings: 2K×2, α_p in the rows of the spins that carry it.
Eigen::MatrixXd setting_effect(const Design& design, const SettingError& piece, const Phasor& coefficient);

/// The same of one mounting that is turned too far, for each rad of it: 2K, −j e^{−jγ} B in the rows of its spins.
Eigen::VectorXd turning_effect(const Design& design, const TurningError& turning, const Phasor& adapters);

/// Generalised least squares for sensor `s`. @param weighted false: every spin counts the same (no uncertainties
/// known).
SensorRegression regress(const Design& design, const std::vector<SpinReading>& spins, std::size_t s, bool weighted);

}  // namespace counterspot
