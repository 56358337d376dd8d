#include "influence/design_matrix.hpp"

#include <Eigen/SVD>
#include <algorithm>
#include <limits>

namespace counterspot {

namespace {

/// Mass errs along the vector, position across it.
Eigen::Matrix2d setting_covariance(const Phasor& unbalance, const SettingUncertainty& setting) {
  Eigen::Vector2d along = as_vector(unbalance) * setting.mass_fraction;
  Eigen::Vector2d across = as_vector(unbalance * Phasor(0.0, 1.0)) * setting.angle_rad;
  return along * along.transpose() + across * across.transpose();
}

}  // namespace

Design design_of(const std::vector<SpinReading>& spins, int plane_count, const SettingUncertainty& setting) {
  Design design;
  design.spin_count = static_cast<int>(spins.size());
  design.plane_count = plane_count;
  design.weights = Eigen::MatrixXcd::Zero(design.spin_count, plane_count);
  std::vector<FittedWeight> known;
  for (std::size_t k = 0; k < spins.size(); ++k) {
    for (const FittedWeight& weight : spins[k].fitted) {
      Phasor unbalance = weight.unbalance_kg_m();
      design.weights(static_cast<Eigen::Index>(k), weight.plane) += unbalance;
      auto at = std::find(known.begin(), known.end(), weight);
      if (at == known.end()) {
        at = known.insert(known.end(), weight);
        design.settings.push_back({weight.plane, setting_covariance(unbalance, setting), {}});
      }
      design.settings[static_cast<std::size_t>(at - known.begin())].spins.push_back(k);
    }
  }
  design.rows = Eigen::MatrixXd::Zero(2 * design.spin_count, 2 * (1 + plane_count));
  for (Eigen::Index k = 0; k < design.spin_count; ++k) {
    design.rows.block<2, 2>(2 * k, 0).setIdentity();
    for (Eigen::Index p = 0; p < plane_count; ++p) {
      design.rows.block<2, 2>(2 * k, 2 * (1 + p)) = as_matrix(design.weights(k, p));
    }
  }
  return design;
}

double scaled_condition(const Eigen::MatrixXcd& matrix) {
  if (matrix.rows() < matrix.cols()) return std::numeric_limits<double>::infinity();
  Eigen::MatrixXcd scaled = matrix;
  for (Eigen::Index column = 0; column < scaled.cols(); ++column) {
    double length = scaled.col(column).norm();
    if (length == 0.0) return std::numeric_limits<double>::infinity();
    scaled.col(column) /= length;
  }
  Eigen::VectorXd singular = Eigen::JacobiSVD<Eigen::MatrixXcd>(scaled).singularValues();
  double smallest = singular(singular.size() - 1);
  return smallest > 0.0 ? singular(0) / smallest : std::numeric_limits<double>::infinity();
}

double condition_of_trials(const Design& design) {
  Eigen::MatrixXcd matrix(design.spin_count, 1 + design.plane_count);
  matrix << Eigen::VectorXcd::Ones(design.spin_count), design.weights;
  return scaled_condition(matrix);
}

}  // namespace counterspot
