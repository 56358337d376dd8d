#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <complex>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/sweep.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr int most_steps = 60;
constexpr double least_turn_rad = pi / 3.0;
constexpr std::size_t least_points = 12;

/// Displacement to the sensor's motion, phase lag convention: each derivative is −jΩ.
Complex view(Motion motion, double speed) {
  const Complex derivative(0.0, -speed);
  switch (motion) {
    case Motion::displacement: return 1.0;
    case Motion::velocity: return derivative;
    case Motion::acceleration: return derivative * derivative;
  }
  return 1.0;
}

struct Points {
  std::vector<double> speeds;
  std::vector<Complex> values;
  Motion motion = Motion::displacement;
};

struct Fitted {
  double rest = 0.0;  // sum of squares
  Complex strength;   // R
  Eigen::VectorXcd residual;
};

/// R and B by linear least squares for given ω_n and ζ.
Fitted project(const Points& p, double natural, double damping) {
  const auto n = static_cast<Eigen::Index>(p.speeds.size());
  Eigen::MatrixXcd basis(n, 2);
  Eigen::VectorXcd z(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double w = p.speeds[static_cast<std::size_t>(i)];
    const Complex v = view(p.motion, w) * w * w;
    basis(i, 0) = v / Complex(natural * natural - w * w, -2.0 * damping * natural * w);
    basis(i, 1) = v / (natural * natural);
    z(i) = p.values[static_cast<std::size_t>(i)];
  }
  const Eigen::VectorXcd solution = least_squares(basis, z);
  Fitted fitted;
  fitted.residual = z - basis * solution;
  fitted.rest = fitted.residual.squaredNorm();
  fitted.strength = solution(0);
  return fitted;
}

/// The points around the largest amplitude, out to a third of it in displacement over Ω² on either side.
Points around_peak(std::span<const double> speeds, std::span<const Phasor> vectors, Motion motion, std::size_t& peak) {
  std::vector<std::size_t> order(speeds.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return speeds[a] < speeds[b]; });
  const auto receptance = [&](std::size_t i) {
    return std::abs(vectors[i] / view(motion, speeds[i])) / (speeds[i] * speeds[i]);
  };
  std::size_t top = order.size() / 10;  // the slowest tenth is noise over Ω²
  for (std::size_t i = top; i < order.size(); ++i) {
    if (std::abs(vectors[order[i]] / view(motion, speeds[order[i]])) >
        std::abs(vectors[order[top]] / view(motion, speeds[order[top]])))
      top = i;
  }
  std::size_t begin = top;
  std::size_t end = top + 1;
  const double third = receptance(order[top]) / 3.0;
  while (begin > 0 && receptance(order[begin]) > third) --begin;
  while (end < order.size() && receptance(order[end - 1]) > third) ++end;
  Points p;
  p.motion = motion;
  for (std::size_t i = begin; i < end; ++i) {
    p.speeds.push_back(speeds[order[i]]);
    p.values.push_back(vectors[order[i]]);
  }
  peak = top - begin;
  return p;
}

double phase_turned(const Points& p) {
  double turned = 0.0;
  for (std::size_t i = 1; i < p.values.size(); ++i) turned += std::arg(p.values[i] / p.values[i - 1]);
  return std::abs(turned);
}

/// Gauss–Newton in (ln ω_n, ln ζ), the linear part projected out; derivatives by differences, steps halved until they
/// help.
void refine(const Points& p, double& natural, double& damping, Eigen::Matrix2d& covariance) {
  Fitted here = project(p, natural, damping);
  Eigen::Matrix2d gram = Eigen::Matrix2d::Zero();
  for (int step = 0; step < most_steps; ++step) {
    const double h = 1e-6;
    const Eigen::VectorXcd by_natural =
        (project(p, natural * (1.0 + h), damping).residual - project(p, natural * (1.0 - h), damping).residual) /
        (2.0 * h);
    const Eigen::VectorXcd by_damping =
        (project(p, natural, damping * (1.0 + h)).residual - project(p, natural, damping * (1.0 - h)).residual) /
        (2.0 * h);
    gram << by_natural.squaredNorm(), by_natural.dot(by_damping).real(), by_natural.dot(by_damping).real(),
        by_damping.squaredNorm();
    const Eigen::Vector2d right(by_natural.dot(here.residual).real(), by_damping.dot(here.residual).real());
    const Eigen::Vector2d move = -gram.ldlt().solve(right);
    double share = std::min(1.0, 0.5 / std::max(std::abs(move(0)) * 10.0, std::abs(move(1))));
    bool better = false;
    for (int half = 0; half < 12 && !better; ++half, share *= 0.5) {
      const double next_natural = natural * std::exp(share * move(0));
      const double next_damping = damping * std::exp(share * move(1));
      const Fitted next = project(p, next_natural, next_damping);
      if (next.rest > here.rest) continue;
      better = true;
      natural = next_natural;
      damping = next_damping;
      here = next;
    }
    if (!better || share * move.norm() < 1e-10) break;
  }
  const double degrees_of_freedom = std::max(1.0, 2.0 * static_cast<double>(p.speeds.size()) - 6.0);
  covariance = gram.inverse() * here.rest / degrees_of_freedom;
}

/// Mobility (velocity over Ω²) is a circle through the origin, diametrically opposite is ω_n; tan of the angle seen
/// from the origin is (ω_n² − Ω²)/(2ζω_nΩ), a straight line in Ω² after multiplying by Ω.
void circle_fit(const Points& p, CriticalSpeed& result) {
  const auto n = static_cast<Eigen::Index>(p.speeds.size());
  Eigen::MatrixXd circle(n, 3);
  Eigen::VectorXd square(n);
  std::vector<Complex> mobility;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double w = p.speeds[static_cast<std::size_t>(i)];
    mobility.push_back(p.values[static_cast<std::size_t>(i)] / view(p.motion, w) * Complex(0.0, -w) / (w * w));
  }
  double scale = 0.0;
  for (const Complex& m : mobility) scale = std::max(scale, std::abs(m));
  for (Eigen::Index i = 0; i < n; ++i) {
    const Complex m = mobility[static_cast<std::size_t>(i)] / scale;
    circle.row(i) << m.real(), m.imag(), 1.0;
    square(i) = std::norm(m);
  }
  const Eigen::Vector3d solution = least_squares(circle, square);  // |m|² = 2 c·m + (r² − |c|²)
  const Complex centre(0.5 * solution(0), 0.5 * solution(1));
  Eigen::MatrixXd line(n, 2);
  Eigen::VectorXd tangent(n);
  Eigen::VectorXd weight(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double w = p.speeds[static_cast<std::size_t>(i)];
    const double half_angle = 0.5 * std::arg((mobility[static_cast<std::size_t>(i)] / scale - centre) / centre);
    const double t = std::tan(half_angle);
    weight(i) = 1.0 / (1.0 + t * t) / w;  // an angle error counts alike all around
    line.row(i) << weight(i), weight(i) * w * w;
    tangent(i) = weight(i) * t * w;
  }
  const Eigen::Vector2d straight = least_squares(line, tangent);
  result.circle_speed_rad_s = std::sqrt(std::abs(straight(0) / straight(1)));
  result.circle_damping_ratio = std::abs(0.5 / (result.circle_speed_rad_s * straight(1)));
}

}  // namespace

std::optional<CriticalSpeed> fit_critical_speed(std::span<const double> speeds_rad_s, std::span<const Phasor> vectors,
                                                Motion motion) {
  if (speeds_rad_s.size() < least_points) return std::nullopt;
  std::size_t peak = 0;
  const Points p = around_peak(speeds_rad_s, vectors, motion, peak);
  if (p.speeds.size() < least_points || phase_turned(p) < least_turn_rad) return std::nullopt;
  double natural = p.speeds[peak];
  double damping = 0.05;
  double best = 1e300;
  for (double start = 0.004; start < 0.5; start *= 1.6) {
    const double rest = project(p, p.speeds[peak], start).rest;
    if (rest < best) {
      best = rest;
      damping = start;
    }
  }
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  refine(p, natural, damping, covariance);
  if (natural < p.speeds.front() || natural > p.speeds.back() || damping > 0.5) return std::nullopt;
  CriticalSpeed result;
  result.speed_rad_s = natural;
  result.u_speed_rad_s = natural * std::sqrt(covariance(0, 0));
  result.damping_ratio = damping;
  result.u_damping_ratio = damping * std::sqrt(covariance(1, 1));
  result.peak_amplitude = std::abs(p.values[peak]);
  result.peak_speed_rad_s = p.speeds[peak];
  circle_fit(p, result);
  return result;
}

}  // namespace counterspot
