#pragma once

#include <Eigen/Core>
#include <tuple>
#include <vector>

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// A complex factor as the real matrix that acts on (Re, Im).
inline Eigen::Matrix2d as_matrix(const Phasor& z) {
  Eigen::Matrix2d matrix;
  matrix << z.real(), -z.imag(), z.imag(), z.real();
  return matrix;
}

inline Eigen::Vector2d as_vector(const Phasor& z) {
  return {z.real(), z.imag()};
}

/// To find a piece among many.
using PieceKey = std::tuple<int, double, double, double>;
inline PieceKey key_of(const FittedWeight& piece) {
  return {piece.plane, piece.mass_kg, piece.radius_m, piece.angle_rad};
}

/// One physical piece whose setting is uncertain. The same piece left on for several spins errs the same way in all of
/// them.
struct SettingError {
  int plane = 0;
  Eigen::Matrix2d
      errors;  ///< of its unbalance (Re, Im), kg·m: a column by mass, one by place; one standard uncertainty
  std::vector<std::size_t> spins;  ///< in which it is fitted
  FittedWeight weight;
};

/// How often that piece is among others.
double times_in(const FittedWeight& weight, const std::vector<FittedWeight>& pieces);

/// One mounting of the shaft turned against its adapters; all spins in it err by the same angle.
struct TurningError {
  double turned_rad = 0.0;
  std::vector<std::size_t> spins;
};

/// What is known before any reading is looked at.
struct Design {
  int spin_count = 0;
  int plane_count = 0;
  Eigen::MatrixXcd weights;            ///< K×P: the sum of what is fitted, kg·m
  std::vector<SettingError> settings;  ///< every different piece once
  std::vector<TurningError> turnings;  ///< one per angle; empty if not turned
  double u_turned_rad = 0.0;           ///< of each
  bool turned = false;                 ///< the shaft was turned against its adapters from spin to spin
  Eigen::MatrixXd rows;  ///< 2K×2(1+P), or 2K×2(2+P) if turned: Z = Z_0 + α W (+ e^{−jγ} B) in real numbers
};

Design design_of(const std::vector<SpinReading>& spins, int plane_count, const SettingUncertainty& setting);

/// Every reading of every spin came with an uncertainty.
bool uncertainties_known(const std::vector<SpinReading>& spins);

/// e^{−jγ}: what turning the shaft does to the adapters' unbalance as the shaft's mark sees it.
Phasor adapter_factor(const SpinReading& spin);

/// Adds a contribution to what the residual is unsure by.
void add_share(InfluenceSummary& summary, ErrorSource source, const Eigen::MatrixXd& covariance);

/// The shares of adapters that were taken away of a spin: how well they are known, and how exactly it is turned.
void add_taken_away(InfluenceSummary& summary, const AdapterShare& adapters, const SpinReading& spin,
                    double u_turned_rad);

/// Condition number of [1 W], or [1 e^{−jγ} W], with its columns scaled to length one; infinity if the spins cannot
/// tell the planes apart.
double condition_of_trials(const Design& design);

/// Condition number of a matrix with its columns scaled to length one; infinity if a column is zero.
double scaled_condition(const Eigen::MatrixXcd& matrix);

}  // namespace counterspot
