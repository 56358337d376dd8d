#include "counterspot/influence/agreement.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"
#include "influence/regression.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Less than this part of a reading tested by the others: the spin is one that they need.
constexpr double least_tested = 1e-6;

/// Far below any real noise; keeps the factorisation defined where a reading claims to be exact.
double floor_of(const std::vector<SpinReading>& spins) {
  double level = 1e-300;
  for (const SpinReading& spin : spins)
    for (const Phasor& z : spin.vectors) level = std::max(level, std::norm(z));
  return 1e-20 * level;
}

/// Q = Wᵀ(I − X X⁺)W of whitened unknown columns X, as far as it is asked for.
struct Tested {
  std::vector<MatrixXd> blocks;  ///< of Q, one per spin
  MatrixXd pulled;               ///< Q z
  double chi_squared = 0.0;      ///< zᵀQ z
  int rank = 0;                  ///< of the unknowns
};

Tested tested_by(const Rows& rows, const Noise& noise) {
  MatrixXd columns = noise.whitened(rows.matrix);
  const VectorXd lengths = columns.colwise().norm();
  for (Index c = 0; c < columns.cols(); ++c)
    if (lengths(c) > 0.0) columns.col(c) /= lengths(c);
  const MatrixXd inverse = pseudo_inverse(columns);
  const MatrixXd values = noise.whitened(rows.values);
  const MatrixXd left = values - columns * (inverse * values);
  Tested tested{noise.blocks_of_inverse(), noise.whitened_back(left), left.squaredNorm(),
                static_cast<int>(std::lround((inverse * columns).trace()))};
  const MatrixXd columns_back = noise.whitened_back(columns);
  const MatrixXd inverse_back = noise.whitened_back(inverse.transpose());
  for (Index k = 0; k < rows.spins; ++k) {
    const Index first = rows.reading_at(0, k);
    tested.blocks[static_cast<std::size_t>(k)] -=
        columns_back.middleRows(first, 2 * rows.sensors) * inverse_back.middleRows(first, 2 * rows.sensors).transpose();
  }
  return tested;
}

}  // namespace

double ExpectedReading::u() const {
  return std::sqrt(0.5 * covariance.trace());
}

bool beyond_chance(double chi_squared, int degrees_of_freedom, double of_covariance) {
  namespace distributions = boost::math;
  constexpr double one_in_a_thousand = 1e-3;
  const double degrees = degrees_of_freedom;
  if (!std::isfinite(of_covariance)) {
    const distributions::chi_squared chance(degrees);
    return chi_squared > quantile(complement(chance, one_in_a_thousand));
  }
  const distributions::fisher_f chance(degrees, of_covariance);
  return chi_squared / degrees > quantile(complement(chance, one_in_a_thousand));
}

Agreement agreement_of(const std::vector<SpinReading>& spins, int plane_count, const std::vector<Phasor>& coefficients,
                       const InfluenceOptions& options) {
  const Design design = design_of(spins, plane_count, options.setting);
  const CoefficientPrior* prior = options.prior ? &*options.prior : nullptr;
  const Rows rows = rows_of(design, spins, 0, spins.front().vectors.size(), prior);
  const Noise noise = noise_of_weights(rows, design, coefficients, floor_of(spins));
  const std::vector<MatrixXd> covariances = noise.blocks();
  const Tested tested = tested_by(rows, noise);
  Agreement agreement;
  agreement.chi_squared = tested.chi_squared;
  agreement.degrees_of_freedom = static_cast<int>(rows.values.size()) - tested.rank;
  const Index of_spin = 2 * rows.sensors;
  for (Index k = 0; k < rows.spins; ++k) {
    auto& expected = agreement.expected.emplace_back(static_cast<std::size_t>(rows.sensors));
    agreement.without.push_back(agreement.chi_squared);
    const MatrixXd& block = tested.blocks[static_cast<std::size_t>(k)];
    const Eigen::LLT<MatrixXd> root(covariances[static_cast<std::size_t>(k)]);
    const MatrixXd share = root.matrixU() * block * root.matrixL();  // 1 − leverage, in units of the noise
    if (Eigen::SelfAdjointEigenSolver<MatrixXd>(share).eigenvalues()(0) < least_tested) continue;
    const MatrixXd inverse = Eigen::LDLT<MatrixXd>(block).solve(MatrixXd::Identity(of_spin, of_spin));
    const VectorXd off = inverse * tested.pulled.middleRows(rows.reading_at(0, k), of_spin);
    agreement.without.back() -= off.dot(block * off);
    for (Index s = 0; s < rows.sensors; ++s) {
      const Eigen::Vector2d parts = off.segment<2>(2 * s);
      const Eigen::Matrix2d of_sensor = inverse.block<2, 2>(2 * s, 2 * s);
      const Phasor read = spins[static_cast<std::size_t>(k)].vectors[static_cast<std::size_t>(s)];
      expected[static_cast<std::size_t>(s)] =
          ExpectedReading{read - Phasor(parts(0), parts(1)), of_sensor,
                          parts.dot(Eigen::LDLT<Eigen::Matrix2d>(of_sensor).solve(parts))};
    }
  }
  return agreement;
}

}  // namespace counterspot
