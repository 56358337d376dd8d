#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "influence/design_matrix.hpp"
#include "influence/noise.hpp"

namespace counterspot {

/// The rows z = A x + e of sensors that are fitted together, in real numbers. First what was read, spin after spin and
/// in each sensor after sensor; then what a prior says of the coefficients, m = α + e. Unknowns, sensor after sensor:
/// (Z_0, α_1, …, α_P), and B of a design that is turned.
struct Rows {
  Eigen::Index sensors = 0, spins = 0, planes = 0;
  Eigen::Index unknowns_each = 0;      ///< of one sensor
  Eigen::MatrixXd matrix;              ///< A
  Eigen::VectorXd values;              ///< z, m
  std::vector<Eigen::MatrixXd> noise;  ///< the spins' own covariances, 2S×2S each, and last the prior's

  Eigen::Index readings() const { return 2 * sensors * spins; }
  Eigen::Index reading_at(Eigen::Index sensor, Eigen::Index spin) const { return 2 * (spin * sensors + sensor); }
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

/// How an error of a piece at a plane shows in each spin that carries it: 2S×2, α_p at all sensors.
/// @param coefficients S·P, sensor-major.
Eigen::MatrixXd setting_effect(const Rows& rows, int plane, const std::vector<Phasor>& coefficients);

/// The same of one mounting that is turned too far, for each rad of it: 2S, −j e^{−jγ} B.
Eigen::VectorXd turning_effect(const TurningError& turning, const Regression& fit);

/// What such errors come through by: the columns of these spins' readings, taken together. @param from …×R. @return
/// …×2S.
Eigen::MatrixXd columns_of_spins(const Eigen::MatrixXd& from, const Rows& rows, const std::vector<std::size_t>& spins);

/// Of the readings and of badly set weights, which make the same error in every spin of a piece.
/// @param floor added to every variance.
Noise noise_of_weights(const Rows& rows, const Design& design, const std::vector<Phasor>& coefficients, double floor);

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
