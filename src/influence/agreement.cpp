#include "counterspot/agreement.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"
#include "influence/design_matrix.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Less than this part of a reading tested by the others: the spin is one that they need.
constexpr double least_tested = 1e-6;

/// All readings, spin after spin and in each sensor after sensor: (Re, Im) of sensor s in spin k at 2(kS + s).
struct System {
  Index spins = 0;
  Index sensors = 0;
  VectorXd readings;    ///< z, less what a prior says
  MatrixXd covariance;  ///< V
  MatrixXd unknowns;    ///< X

  Index at(Index spin, Index sensor) const { return 2 * (spin * sensors + sensor); }
};

Phasor coefficient_of(const std::vector<Phasor>& coefficients, const Design& design, Index sensor, Index plane) {
  return coefficients[static_cast<std::size_t>(sensor * design.plane_count + plane)];
}

void add_setting(const Design& design, const std::vector<Phasor>& coefficients, System& system) {
  for (const SettingError& piece : design.settings) {
    MatrixXd effect = MatrixXd::Zero(system.readings.size(), 2);
    for (const std::size_t k : piece.spins) {
      for (Index s = 0; s < system.sensors; ++s)
        effect.block<2, 2>(system.at(static_cast<Index>(k), s), 0) +=
            as_matrix(coefficient_of(coefficients, design, s, piece.plane));
    }
    system.covariance += effect * piece.covariance * effect.transpose();
  }
}

/// The rows that multiply (Re, Im) of every coefficient, sensor-major.
MatrixXd coefficient_columns(const Design& design, const System& system) {
  MatrixXd columns = MatrixXd::Zero(system.readings.size(), 2 * system.sensors * design.plane_count);
  for (Index k = 0; k < system.spins; ++k) {
    for (Index s = 0; s < system.sensors; ++s) {
      for (Index p = 0; p < design.plane_count; ++p)
        columns.block<2, 2>(system.at(k, s), 2 * (s * design.plane_count + p)) = as_matrix(design.weights(k, p));
    }
  }
  return columns;
}

/// As found, and what turns with the adapters, of every sensor.
MatrixXd constant_columns(const std::vector<SpinReading>& spins, const Design& design, const System& system) {
  const Index each = design.turned ? 4 : 2;
  MatrixXd columns = MatrixXd::Zero(system.readings.size(), each * system.sensors);
  for (Index k = 0; k < system.spins; ++k) {
    for (Index s = 0; s < system.sensors; ++s) {
      columns.block<2, 2>(system.at(k, s), each * s).setIdentity();
      if (design.turned)
        columns.block<2, 2>(system.at(k, s), each * s + 2) =
            as_matrix(adapter_factor(spins[static_cast<std::size_t>(k)]));
    }
  }
  return columns;
}

System system_of(const std::vector<SpinReading>& spins, const Design& design, const std::vector<Phasor>& coefficients,
                 const InfluenceOptions& options) {
  System system;
  system.spins = static_cast<Index>(spins.size());
  system.sensors = static_cast<Index>(spins.front().vectors.size());
  const Index size = 2 * system.spins * system.sensors;
  system.readings = VectorXd(size);
  system.covariance = MatrixXd::Zero(size, size);
  for (Index k = 0; k < system.spins; ++k) {
    const SpinReading& spin = spins[static_cast<std::size_t>(k)];
    for (Index s = 0; s < system.sensors; ++s) {
      const Index at = system.at(k, s);
      system.readings.segment<2>(at) = as_vector(spin.vectors[static_cast<std::size_t>(s)]);
      system.covariance.block<2, 2>(at, at) = spin.covariances[static_cast<std::size_t>(s)];
    }
  }
  add_setting(design, coefficients, system);
  const MatrixXd of_coefficients = coefficient_columns(design, system);
  const MatrixXd constant = constant_columns(spins, design, system);
  if (options.prior) {
    system.readings -= of_coefficients * options.prior->mean;
    system.covariance += of_coefficients * options.prior->covariance * of_coefficients.transpose();
    system.unknowns = constant;
  } else {
    system.unknowns = MatrixXd(size, constant.cols() + of_coefficients.cols());
    system.unknowns << constant, of_coefficients;
  }
  return system;
}

/// Far below any real noise; keeps the factorisation defined where a reading claims to be exact.
MatrixXd with_a_floor(const System& system, const std::vector<SpinReading>& spins) {
  double level = 1e-300;
  for (const SpinReading& spin : spins)
    for (const Phasor& z : spin.vectors) level = std::max(level, std::norm(z));
  return system.covariance + 1e-20 * level * MatrixXd::Identity(system.covariance.rows(), system.covariance.cols());
}

struct Tested {
  MatrixXd q;
  int rank = 0;  ///< of the unknowns
};

Tested tested_by(const System& system, const MatrixXd& covariance) {
  const Eigen::LLT<MatrixXd> factor(covariance);
  MatrixXd whitened = factor.matrixL().solve(system.unknowns);
  const VectorXd lengths = whitened.colwise().norm();
  for (Index c = 0; c < whitened.cols(); ++c)
    if (lengths(c) > 0.0) whitened.col(c) /= lengths(c);
  const MatrixXd hat = whitened * pseudo_inverse(whitened);
  const MatrixXd left = MatrixXd::Identity(hat.rows(), hat.cols()) - hat;
  const MatrixXd half = factor.matrixU().solve(left);  // L⁻ᵀ(I − H)
  return {half * half.transpose(), static_cast<int>(std::lround(hat.trace()))};
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
  const System system = system_of(spins, design, coefficients, options);
  const MatrixXd covariance = with_a_floor(system, spins);
  const Tested tested = tested_by(system, covariance);
  const VectorXd pulled = tested.q * system.readings;
  Agreement agreement;
  agreement.chi_squared = system.readings.dot(pulled);
  agreement.degrees_of_freedom = static_cast<int>(system.readings.size()) - tested.rank;
  const Index of_spin = 2 * system.sensors;
  for (Index k = 0; k < system.spins; ++k) {
    auto& expected = agreement.expected.emplace_back(static_cast<std::size_t>(system.sensors));
    agreement.without.push_back(agreement.chi_squared);
    const MatrixXd block = tested.q.block(k * of_spin, k * of_spin, of_spin, of_spin);
    const MatrixXd noise = covariance.block(k * of_spin, k * of_spin, of_spin, of_spin);
    const Eigen::LLT<MatrixXd> root(noise);
    const MatrixXd share = root.matrixU() * block * root.matrixL();  // 1 − leverage, in units of the noise
    if (Eigen::SelfAdjointEigenSolver<MatrixXd>(share).eigenvalues()(0) < least_tested) continue;
    const MatrixXd inverse = Eigen::LDLT<MatrixXd>(block).solve(MatrixXd::Identity(of_spin, of_spin));
    const VectorXd off = inverse * pulled.segment(k * of_spin, of_spin);
    agreement.without.back() -= off.dot(block * off);
    for (Index s = 0; s < system.sensors; ++s) {
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
