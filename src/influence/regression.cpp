#include "influence/regression.hpp"
#include "algebra/pseudo_inverse.hpp"

#include <Eigen/Cholesky>

namespace counterspot {

namespace {

Eigen::VectorXd stacked_vectors(const std::vector<SpinReading>& spins, std::size_t s) {
  Eigen::VectorXd stacked(2 * spins.size());
  for (std::size_t k = 0; k < spins.size(); ++k)
    stacked.segment<2>(2 * static_cast<Eigen::Index>(k)) = as_vector(spins[k].vectors[s]);
  return stacked;
}

Eigen::MatrixXd stacked_noise(const std::vector<SpinReading>& spins, std::size_t s) {
  Eigen::MatrixXd noise = Eigen::MatrixXd::Zero(2 * spins.size(), 2 * spins.size());
  for (std::size_t k = 0; k < spins.size(); ++k) {
    auto at = 2 * static_cast<Eigen::Index>(k);
    noise.block<2, 2>(at, at) = spins[k].covariances[s];
  }
  return noise;
}

/// Columns of the design differ by orders of magnitude in SI (1 against kg·m); scaled to length one they solve well.
Eigen::VectorXd column_scales(const Eigen::MatrixXd& matrix) {
  Eigen::VectorXd scales = matrix.colwise().norm();
  return scales.unaryExpr([](double scale) { return scale > 0.0 ? scale : 1.0; });
}

/// H of x = H z for whitened rows L⁻¹A: H = (L⁻¹A)⁺ L⁻¹, the last factor by solving Lᵀ Hᵀ = (L⁻¹A)⁺ᵀ.
Eigen::MatrixXd estimator_of(const Eigen::MatrixXd& rows, const Eigen::MatrixXd& noise) {
  const Eigen::LLT<Eigen::MatrixXd> factor(noise);
  const Eigen::MatrixXd whitened = factor.matrixL().solve(rows);
  const Eigen::VectorXd scales = column_scales(whitened);
  const Eigen::MatrixXd scaled = whitened * scales.cwiseInverse().asDiagonal();
  const Eigen::MatrixXd inverse = scales.cwiseInverse().asDiagonal() * pseudo_inverse(scaled);
  return factor.matrixU().solve(inverse.transpose()).transpose();
}

/// Keeps the factorisation defined where a reading claims to be exact: far below any real noise.
Eigen::MatrixXd with_floor(const Eigen::MatrixXd& noise, double level) {
  return noise + 1e-24 * level * Eigen::MatrixXd::Identity(noise.rows(), noise.cols());
}

/// Σ E_j C_j E_jᵀ, E_j the `setting_effect` of a piece, which is the same in each of its spins and nothing in others.
Eigen::MatrixXd setting_noise(const Design& design, const SensorRegression& fit) {
  Eigen::MatrixXd noise = Eigen::MatrixXd::Zero(design.rows.rows(), design.rows.rows());
  for (const SettingError& piece : design.settings) {
    const Eigen::Matrix2d effect = as_matrix(fit.coefficient(piece.plane));
    const Eigen::Matrix2d common = effect * piece.covariance * effect.transpose();
    for (const std::size_t k : piece.spins) {
      for (const std::size_t l : piece.spins)
        noise.block<2, 2>(2 * static_cast<Eigen::Index>(k), 2 * static_cast<Eigen::Index>(l)) += common;
    }
  }
  for (const TurningError& turning : design.turnings) {
    const Eigen::VectorXd effect = design.u_turned_rad * turning_effect(design, turning, fit.adapters());
    noise += effect * effect.transpose();
  }
  return noise;
}

}  // namespace

Eigen::MatrixXd setting_effect(const Design& design, const SettingError& piece, const Phasor& coefficient) {
  Eigen::MatrixXd effect = Eigen::MatrixXd::Zero(design.rows.rows(), 2);
  for (std::size_t k : piece.spins) effect.block<2, 2>(2 * static_cast<Eigen::Index>(k), 0) = as_matrix(coefficient);
  return effect;
}

Eigen::VectorXd turning_effect(const Design& design, const TurningError& turning, const Phasor& adapters) {
  Eigen::VectorXd effect = Eigen::VectorXd::Zero(design.rows.rows());
  for (std::size_t k : turning.spins)
    effect.segment<2>(2 * static_cast<Eigen::Index>(k)) =
        as_vector(Phasor(0.0, -1.0) * phasor_at(1.0, -turning.turned_rad) * adapters);
  return effect;
}

SensorRegression regress(const Design& design, const std::vector<SpinReading>& spins, std::size_t s, bool weighted) {
  const Eigen::VectorXd vectors = stacked_vectors(spins, s);
  const double level = std::max(vectors.squaredNorm(), 1e-300);
  SensorRegression fit;
  fit.reading_noise = stacked_noise(spins, s);
  Eigen::MatrixXd noise =
      weighted ? with_floor(fit.reading_noise, level) : Eigen::MatrixXd::Identity(vectors.size(), vectors.size());
  // The effect of a badly set weight depends on α, which depends on the weights of the regression: a few rounds settle
  // it.
  constexpr int rounds = 4;
  for (int round = 0; round < rounds; ++round) {
    fit.estimator = estimator_of(design.rows, noise);
    fit.unknowns = fit.estimator * vectors;
    if (!weighted) break;
    noise = with_floor(fit.reading_noise + setting_noise(design, fit), level);
  }
  if (!weighted) noise = Eigen::MatrixXd::Zero(vectors.size(), vectors.size());
  fit.covariance = fit.estimator * noise * fit.estimator.transpose();
  if (!weighted) return fit;
  Eigen::VectorXd misfit = vectors - design.rows * fit.unknowns;
  fit.chi_squared = misfit.dot(Eigen::LDLT<Eigen::MatrixXd>(noise).solve(misfit));
  return fit;
}

}  // namespace counterspot
