#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "influence/design_matrix.hpp"

namespace counterspot {

/// The rows z = A x + e of sensors that are fitted together, in real numbers. First what was read, sensor after sensor
/// and in each spin after spin; then what a prior says of the coefficients, m = α + e. Unknowns, sensor after sensor:
/// (Z_0, α_1, …, α_P), and B of a design that is turned.
struct Rows {
  Eigen::Index sensors = 0, spins = 0, planes = 0;
  Eigen::Index unknowns_each = 0;  ///< of one sensor
  Eigen::MatrixXd matrix;          ///< A
  Eigen::VectorXd values;          ///< z, m
  Eigen::MatrixXd noise;           ///< the spins' own covariances, the prior's

  Eigen::Index readings() const { return 2 * sensors * spins; }
  Eigen::Index reading_at(Eigen::Index sensor, Eigen::Index spin) const { return 2 * (sensor * spins + spin); }
  Eigen::Index unknown_at(Eigen::Index sensor) const { return unknowns_each * sensor; }
  Eigen::Index coefficients_at(Eigen::Index sensor) const { return unknown_at(sensor) + 2; }
};

/// @param first, count the sensors. @param prior of just these sensors' coefficients, or none.
Rows rows_of(const Design& design, const std::vector<SpinReading>& spins, std::size_t first, std::size_t count,
             const CoefficientPrior* prior);

/// What sensors that share no unknown are fitted by, each for itself; sensors that a prior ties together are fitted as
/// one.
struct Regression {
  Rows rows;
  Eigen::VectorXd unknowns;
  Eigen::MatrixXd estimator;   ///< x = H z, so that an error of z goes on to x
  Eigen::MatrixXd covariance;  ///< of x
  double chi_squared = 0.0;

  Phasor as_found(Eigen::Index sensor) const { return unknown(rows.unknown_at(sensor)); }
  Phasor coefficient(Eigen::Index sensor, Eigen::Index plane) const {
    return unknown(rows.coefficients_at(sensor) + 2 * plane);
  }
  Eigen::Matrix2d coefficient_covariance(Eigen::Index sensor, Eigen::Index plane) const {
    const Eigen::Index at = rows.coefficients_at(sensor) + 2 * plane;
    return covariance.block<2, 2>(at, at);
  }
  /// B of a design that is turned.
  Phasor adapters(Eigen::Index sensor) const { return unknown(rows.unknown_at(sensor + 1) - 2); }
  std::vector<Phasor> coefficients() const;
  int degrees_of_freedom() const { return static_cast<int>(rows.matrix.rows() - rows.matrix.cols()); }

 private:
  Phasor unknown(Eigen::Index at) const { return {unknowns(at), unknowns(at + 1)}; }
};

/// How an error of one fitted piece shows in the rows: R×2, α_p in the rows of the spins that carry it, at all sensors.
/// @param coefficients S·P, sensor-major.
Eigen::MatrixXd setting_effect(const Rows& rows, const SettingError& piece, const std::vector<Phasor>& coefficients);

/// The same of one mounting that is turned too far, for each rad of it: R, −j e^{−jγ} B in the rows of its spins.
Eigen::VectorXd turning_effect(const TurningError& turning, const Regression& fit);

/// Σ E_i C_i E_iᵀ over the pieces: what badly set weights make, the same error in every row of a piece.
Eigen::MatrixXd setting_noise(const Rows& rows, const Design& design, const std::vector<Phasor>& coefficients);

/// Generalised least squares; with a prior's rows that is the Bayesian update, flat in Z_0 and B (A. Gelman et al.,
/// *Bayesian Data Analysis*, 3rd ed., 14.8: prior information as additional data points).
/// @param weighted false: every row counts the same (no uncertainties known).
Regression regress(const Design& design, Rows rows, bool weighted);

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
