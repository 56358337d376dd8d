#pragma once

#include <Eigen/Eigenvalues>
#include <cmath>
#include <vector>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

/// The edge of the region that holds a vector's end in 95 of 100 cases, round it; empty if its covariance is not known.
inline std::vector<Phasor> ellipse_of(const Phasor& end, const Eigen::Matrix2d& covariance, int points = 72) {
  std::vector<Phasor> edge;
  if (covariance.isZero(0.0)) return edge;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(covariance);
  const Eigen::Matrix2d root = axes.eigenvectors() * axes.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
  for (int i = 0; i < points; ++i) {
    const double t = turn_rad * i / points;
    const Eigen::Vector2d off = coverage_of_vector * (root * Eigen::Vector2d(std::cos(t), std::sin(t)));
    edge.push_back(end + Phasor(off[0], off[1]));
  }
  return edge;
}

}  // namespace counterspot
