#pragma once

#include <Eigen/Core>
#include <vector>

#include "counterspot/placement/fitting.hpp"

namespace counterspot {

/// The rows that open planes are there for, divided by their limits: r = b + A·w, |r_i| ≤ t. Columns are the open
/// planes.
struct ScaledAim {
  Eigen::MatrixXcd a;
  Eigen::VectorXcd b;
  std::vector<int> planes;   ///< of the columns
  std::vector<bool> is_for;  ///< one per row of the aim: it is among these rows

  double worst(const Eigen::VectorXcd& r) const { return r.size() == 0 ? 0.0 : r.cwiseAbs().maxCoeff(); }
};
/// @throws Error(request, …) "no_limit", "planes_not_told_apart".
ScaledAim scaled_aim(const Aim& aim, const std::vector<PlaneSites>& planes);

/// What bounds the loads of the columns from `first` on, the ones before being chosen.
class Bounds {
 public:
  Bounds(const Eigen::MatrixXcd& a, int first);

  /// The least-squares loads of these columns for rows as they are now.
  Eigen::VectorXcd ideal(const Eigen::VectorXcd& b) const { return -(inverse_ * b); }
  /// How far column c (from `first`) may lie from the ideal if all |r_i| ≤ t.
  double radius(int c, double t, double rho_squared) const;
  /// ρ²: squared residual of least squares; nothing is better than √(ρ²/m).
  double rho_squared(const Eigen::VectorXcd& b) const;
  double least_ratio(const Eigen::VectorXcd& b) const;

 private:
  Eigen::MatrixXcd columns_;
  Eigen::MatrixXcd inverse_;
};

}  // namespace counterspot
