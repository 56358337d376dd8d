#include "influence/regression.hpp"

#include <Eigen/Cholesky>

#include "algebra/pseudo_inverse.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

void add_prior(const CoefficientPrior& prior, Rows& rows) {
  const Index at = rows.readings();
  rows.values.tail(prior.mean.size()) = prior.mean;
  rows.noise.bottomRightCorner(prior.mean.size(), prior.mean.size()) = prior.covariance;
  const Index each = 2 * rows.planes;
  for (Index s = 0; s < rows.sensors; ++s)
    rows.matrix.block(at + each * s, rows.coefficients_at(s), each, each).setIdentity();
}

/// Columns of the design differ by orders of magnitude in SI (1 against kg·m); scaled to length one they solve well.
VectorXd column_scales(const MatrixXd& matrix) {
  VectorXd scales = matrix.colwise().norm();
  return scales.unaryExpr([](double scale) { return scale > 0.0 ? scale : 1.0; });
}

/// H of x = H z for whitened rows L⁻¹A: H = (L⁻¹A)⁺ L⁻¹, the last factor by solving Lᵀ Hᵀ = (L⁻¹A)⁺ᵀ.
MatrixXd estimator_of(const MatrixXd& rows, const MatrixXd& noise) {
  const Eigen::LLT<MatrixXd> factor(noise);
  const MatrixXd whitened = factor.matrixL().solve(rows);
  const VectorXd scales = column_scales(whitened);
  const MatrixXd scaled = whitened * scales.cwiseInverse().asDiagonal();
  const MatrixXd inverse = scales.cwiseInverse().asDiagonal() * pseudo_inverse(scaled);
  return factor.matrixU().solve(inverse.transpose()).transpose();
}

/// All that makes the rows err. The floor keeps the factorisation defined where a reading claims to be exact: far below
/// any real noise.
MatrixXd noise_of(const Design& design, const Regression& fit) {
  const double level = std::max(fit.rows.values.head(fit.rows.readings()).squaredNorm(), 1e-300);
  MatrixXd noise = fit.rows.noise + setting_noise(fit.rows, design, fit.coefficients());
  for (const TurningError& turning : design.turnings) {
    const VectorXd effect = design.u_turned_rad * turning_effect(turning, fit);
    noise += effect * effect.transpose();
  }
  return noise + 1e-24 * level * MatrixXd::Identity(noise.rows(), noise.cols());
}

/// Where the rounds begin: what a prior says; else nothing, so that the first round is of the readings' noise alone.
VectorXd first_unknowns(const Rows& rows) {
  VectorXd unknowns = VectorXd::Zero(rows.matrix.cols());
  if (rows.values.size() > rows.readings())
    for (Index s = 0; s < rows.sensors; ++s)
      unknowns.segment(rows.coefficients_at(s), 2 * rows.planes) =
          rows.values.segment(rows.readings() + 2 * rows.planes * s, 2 * rows.planes);
  return unknowns;
}

std::vector<Phasor> phasors_of(const VectorXd& stacked) {
  std::vector<Phasor> phasors;
  for (Index at = 0; at < stacked.size(); at += 2) phasors.emplace_back(stacked(at), stacked(at + 1));
  return phasors;
}

}  // namespace

Rows rows_of(const Design& design, const std::vector<SpinReading>& spins, std::size_t first, std::size_t count,
             const CoefficientPrior* prior) {
  Rows rows;
  rows.sensors = static_cast<Index>(count);
  rows.spins = design.spin_count;
  rows.planes = design.plane_count;
  rows.unknowns_each = design.rows.cols();
  const Index all = rows.readings() + (prior != nullptr ? prior->mean.size() : 0);
  rows.matrix = MatrixXd::Zero(all, rows.unknown_at(rows.sensors));
  rows.noise = MatrixXd::Zero(all, all);
  rows.values = VectorXd(all);
  for (Index s = 0; s < rows.sensors; ++s) {
    const std::size_t sensor = first + static_cast<std::size_t>(s);
    rows.matrix.block(rows.reading_at(s, 0), rows.unknown_at(s), 2 * rows.spins, rows.unknowns_each) = design.rows;
    for (Index k = 0; k < rows.spins; ++k) {
      const SpinReading& spin = spins[static_cast<std::size_t>(k)];
      const Index at = rows.reading_at(s, k);
      rows.noise.block<2, 2>(at, at) = spin.covariances[sensor];
      rows.values.segment<2>(at) = as_vector(spin.vectors[sensor]);
    }
  }
  if (prior != nullptr) add_prior(*prior, rows);
  return rows;
}

std::vector<Phasor> Regression::coefficients() const {
  std::vector<Phasor> list;
  for (Index s = 0; s < rows.sensors; ++s)
    for (Index p = 0; p < rows.planes; ++p) list.push_back(coefficient(s, p));
  return list;
}

MatrixXd setting_effect(const Rows& rows, const SettingError& piece, const std::vector<Phasor>& coefficients) {
  MatrixXd effect = MatrixXd::Zero(rows.values.size(), 2);
  for (Index s = 0; s < rows.sensors; ++s) {
    const Phasor& coefficient = coefficients[static_cast<std::size_t>(s * rows.planes + piece.plane)];
    for (const std::size_t k : piece.spins)
      effect.block<2, 2>(rows.reading_at(s, static_cast<Index>(k)), 0) += as_matrix(coefficient);
  }
  return effect;
}

VectorXd turning_effect(const TurningError& turning, const Regression& fit) {
  VectorXd effect = VectorXd::Zero(fit.rows.values.size());
  for (Index s = 0; s < fit.rows.sensors; ++s)
    for (const std::size_t k : turning.spins)
      effect.segment<2>(fit.rows.reading_at(s, static_cast<Index>(k))) =
          as_vector(Phasor(0.0, -1.0) * phasor_at(1.0, -turning.turned_rad) * fit.adapters(s));
  return effect;
}

MatrixXd setting_noise(const Rows& rows, const Design& design, const std::vector<Phasor>& coefficients) {
  MatrixXd noise = MatrixXd::Zero(rows.values.size(), rows.values.size());
  for (const SettingError& piece : design.settings) {
    const MatrixXd effect = setting_effect(rows, piece, coefficients);
    noise += effect * piece.covariance * effect.transpose();
  }
  return noise;
}

Regression regress(const Design& design, Rows rows, bool weighted) {
  Regression fit;
  fit.rows = std::move(rows);
  fit.unknowns = first_unknowns(fit.rows);
  const Index size = fit.rows.values.size();
  MatrixXd noise = weighted ? noise_of(design, fit) : MatrixXd::Identity(size, size);
  // The effect of a badly set weight depends on α, which depends on the weights of the regression: a few rounds settle
  // it.
  constexpr int rounds = 4;
  for (int round = 0; round < rounds; ++round) {
    fit.estimator = estimator_of(fit.rows.matrix, noise);
    fit.unknowns = fit.estimator * fit.rows.values;
    if (!weighted) break;
    noise = noise_of(design, fit);
  }
  if (!weighted) noise.setZero();
  fit.covariance = fit.estimator * noise * fit.estimator.transpose();
  if (!weighted) return fit;
  const VectorXd misfit = fit.rows.values - fit.rows.matrix * fit.unknowns;
  fit.chi_squared = misfit.dot(Eigen::LDLT<MatrixXd>(noise).solve(misfit));
  return fit;
}

CoefficientInformation information_of(const std::vector<SpinReading>& spins, int plane_count,
                                      const SettingUncertainty& setting, const VectorXd& guess) {
  const Design design = design_of(spins, plane_count, setting);
  const Rows rows = rows_of(design, spins, 0, spins.front().vectors.size(), nullptr);
  const Index each = 2 * rows.planes;
  MatrixXd as_found(rows.readings(), 2 * rows.sensors);
  MatrixXd of_coefficients(rows.readings(), each * rows.sensors);
  for (Index s = 0; s < rows.sensors; ++s) {
    as_found.middleCols(2 * s, 2) = rows.matrix.middleCols(rows.unknown_at(s), 2);
    of_coefficients.middleCols(each * s, each) = rows.matrix.middleCols(rows.coefficients_at(s), each);
  }
  const Eigen::LLT<MatrixXd> noise(rows.noise + setting_noise(rows, design, phasors_of(guess)));
  const MatrixXd weighted = noise.solve(as_found);
  const Eigen::LDLT<MatrixXd> of_as_found(as_found.transpose() * weighted);
  // What is left of rows and readings once the best Z_0 is taken away.
  const MatrixXd rows_left = of_coefficients - as_found * of_as_found.solve(weighted.transpose() * of_coefficients);
  const MatrixXd weighted_rows = noise.solve(rows_left);
  return {rows_left.transpose() * weighted_rows, weighted_rows.transpose() * rows.values};
}

}  // namespace counterspot
