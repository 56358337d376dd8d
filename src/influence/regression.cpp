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
  rows.noise.push_back(prior.covariance);
  const Index each = 2 * rows.planes;
  for (Index s = 0; s < rows.sensors; ++s)
    rows.matrix.block(at + each * s, rows.coefficients_at(s), each, each).setIdentity();
}

/// Columns of the design differ by orders of magnitude in SI (1 against kg·m); scaled to length one they solve well.
VectorXd column_scales(const MatrixXd& matrix) {
  VectorXd scales = matrix.colwise().norm();
  return scales.unaryExpr([](double scale) { return scale > 0.0 ? scale : 1.0; });
}

/// H of x = H z for whitened rows W A: H = (W A)⁺ W.
MatrixXd estimator_of(const MatrixXd& rows, const Noise& noise) {
  const MatrixXd whitened = noise.whitened(rows);
  const VectorXd scales = column_scales(whitened);
  const MatrixXd scaled = whitened * scales.cwiseInverse().asDiagonal();
  const MatrixXd inverse = scales.cwiseInverse().asDiagonal() * pseudo_inverse(scaled);
  return noise.whitened_back(inverse.transpose()).transpose();
}

/// @param floor added to every variance.
Noise noise_with(const Rows& rows, std::vector<CommonError> errors, double floor) {
  std::vector<MatrixXd> blocks = rows.noise;
  for (MatrixXd& block : blocks) block.diagonal().array() += floor;
  return {std::move(blocks), std::move(errors)};
}

std::vector<CommonError> setting_errors(const Rows& rows, const Design& design,
                                        const std::vector<Phasor>& coefficients) {
  std::vector<CommonError> errors;
  for (const SettingError& piece : design.settings)
    errors.push_back(
        {piece.spins, setting_effect(rows, piece.plane, coefficients) * piece.errors, piece.plane, piece.errors});
  return errors;
}

/// All that makes the rows err. The floor keeps the factorisation defined where a reading claims to be exact: far below
/// any real noise.
Noise noise_of(const Design& design, const Regression& fit) {
  const double level = std::max(fit.rows.values.head(fit.rows.readings()).squaredNorm(), 1e-300);
  std::vector<CommonError> errors = setting_errors(fit.rows, design, fit.coefficients());
  for (const TurningError& turning : design.turnings)
    errors.push_back({turning.spins, design.u_turned_rad * turning_effect(turning, fit)});
  return noise_with(fit.rows, std::move(errors), 1e-24 * level);
}

/// Every row counts the same.
Noise unit_noise(const Rows& rows) {
  std::vector<MatrixXd> blocks = rows.noise;
  for (MatrixXd& block : blocks) block.setIdentity();
  return {std::move(blocks), {}};
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
  rows.values = VectorXd(all);
  for (Index k = 0; k < rows.spins; ++k) {
    const SpinReading& spin = spins[static_cast<std::size_t>(k)];
    MatrixXd& noise = rows.noise.emplace_back(MatrixXd::Zero(2 * rows.sensors, 2 * rows.sensors));
    for (Index s = 0; s < rows.sensors; ++s) {
      const std::size_t sensor = first + static_cast<std::size_t>(s);
      const Index at = rows.reading_at(s, k);
      rows.matrix.block(at, rows.unknown_at(s), 2, rows.unknowns_each) = design.rows.middleRows<2>(2 * k);
      rows.values.segment<2>(at) = as_vector(spin.vectors[sensor]);
      noise.block<2, 2>(2 * s, 2 * s) = spin.covariances[sensor];
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

MatrixXd setting_effect(const Rows& rows, int plane, const std::vector<Phasor>& coefficients) {
  MatrixXd effect(2 * rows.sensors, 2);
  for (Index s = 0; s < rows.sensors; ++s)
    effect.middleRows<2>(2 * s) = as_matrix(coefficients[static_cast<std::size_t>(s * rows.planes + plane)]);
  return effect;
}

VectorXd turning_effect(const TurningError& turning, const Regression& fit) {
  VectorXd effect(2 * fit.rows.sensors);
  for (Index s = 0; s < fit.rows.sensors; ++s)
    effect.segment<2>(2 * s) = as_vector(Phasor(0.0, -1.0) * phasor_at(1.0, -turning.turned_rad) * fit.adapters(s));
  return effect;
}

MatrixXd columns_of_spins(const MatrixXd& from, const Rows& rows, const std::vector<std::size_t>& spins) {
  MatrixXd sum = MatrixXd::Zero(from.rows(), 2 * rows.sensors);
  for (const std::size_t k : spins) sum += from.middleCols(rows.reading_at(0, static_cast<Index>(k)), 2 * rows.sensors);
  return sum;
}

Noise noise_of_weights(const Rows& rows, const Design& design, const std::vector<Phasor>& coefficients, double floor) {
  return noise_with(rows, setting_errors(rows, design, coefficients), floor);
}

Regression regress(const Design& design, Rows rows, bool weighted) {
  Regression fit;
  fit.rows = std::move(rows);
  fit.unknowns = first_unknowns(fit.rows);
  Noise noise = weighted ? noise_of(design, fit) : unit_noise(fit.rows);
  // The effect of a badly set weight depends on α, which depends on the weights of the regression: a few rounds settle
  // it.
  constexpr int rounds = 4;
  for (int round = 0; round < rounds; ++round) {
    fit.estimator = estimator_of(fit.rows.matrix, noise);
    fit.unknowns = fit.estimator * fit.rows.values;
    if (!weighted) break;
    noise = noise_of(design, fit);
  }
  fit.covariance = MatrixXd::Zero(fit.unknowns.size(), fit.unknowns.size());
  if (!weighted) return fit;
  fit.covariance = noise.carried(fit.estimator);
  fit.chi_squared = noise.whitened(fit.rows.values - fit.rows.matrix * fit.unknowns).squaredNorm();
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
  const Noise noise = noise_of_weights(rows, design, phasors_of(guess), 0.0);
  const MatrixXd of_as_found = noise.whitened(as_found);
  const MatrixXd all = noise.whitened(of_coefficients);
  // What is left of the rows once the best Z_0 is taken away.
  const Eigen::LDLT<MatrixXd> best(of_as_found.transpose() * of_as_found);
  const MatrixXd left = all - of_as_found * best.solve(of_as_found.transpose() * all);
  return {left.transpose() * left, left.transpose() * noise.whitened(rows.values)};
}

}  // namespace counterspot
