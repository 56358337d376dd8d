#include "tracking/circle_fit.hpp"

#include <algorithm>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"

namespace counterspot {
namespace {

/// Order 1 of velocity over Ω², phase lag: each derivative is −jΩ.
std::complex<double> mobility_of(const SteadyPoint& point, Motion motion) {
  const std::complex<double> derivative(0.0, -point.speed_rad_s);
  const std::complex<double> over = point.vector / (point.speed_rad_s * point.speed_rad_s);
  switch (motion) {
    case Motion::displacement: return over * derivative;
    case Motion::velocity: return over;
    case Motion::unscaled:
    case Motion::acceleration: return over / derivative;
  }
  return over;
}

}  // namespace

Circle circle_fit(const std::vector<SteadyPoint>& points, Motion motion) {
  if (points.size() < 3) return {};
  const auto n = static_cast<Eigen::Index>(points.size());
  std::vector<std::complex<double>> mobility;
  double scale = 0.0;
  for (const SteadyPoint& point : points) {
    mobility.push_back(mobility_of(point, motion));
    scale = std::max(scale, std::abs(mobility.back()));
  }
  Eigen::MatrixXd circle(n, 3);
  Eigen::VectorXd square(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const std::complex<double> m = mobility[static_cast<std::size_t>(i)] / scale;
    circle.row(i) << m.real(), m.imag(), 1.0;
    square(i) = std::norm(m);
  }
  const Eigen::Vector3d solution = least_squares(circle, square);  // |m|² = 2 c·m + (r² − |c|²)
  const std::complex<double> centre(0.5 * solution(0), 0.5 * solution(1));
  Eigen::MatrixXd line(n, 2);
  Eigen::VectorXd tangent(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double w = points[static_cast<std::size_t>(i)].speed_rad_s;
    const double half_angle = 0.5 * std::arg((mobility[static_cast<std::size_t>(i)] / scale - centre) / centre);
    const double t = std::tan(half_angle);
    const double weight = 1.0 / (1.0 + t * t) / w;  // an angle error counts alike all around
    line.row(i) << weight, weight * w * w;
    tangent(i) = weight * t * w;
  }
  const Eigen::Vector2d straight = least_squares(line, tangent);
  Circle found;
  found.speed_rad_s = std::sqrt(std::abs(straight(0) / straight(1)));
  found.damping_ratio = std::abs(0.5 / (found.speed_rad_s * straight(1)));
  return found;
}

}  // namespace counterspot
