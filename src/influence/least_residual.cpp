#include "counterspot/influence/least_residual.hpp"
#include "algebra/pseudo_inverse.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// The problem in real numbers, rows in parts of the largest |present|, columns of length one.
struct Scaled {
  MatrixXd response;  // 2M×2N
  VectorXd present;   // 2M
  VectorXd most;      // N
  VectorXd columns;   // N: w = y·columns
  double unit = 1.0;  // the largest |present|
  Least least = Least::squares;

  Index rows() const { return present.size() / 2; }
  Index planes() const { return most.size(); }
  Index unknowns() const { return 2 * planes() + (least == Least::worst ? 1 : 0); }
  VectorXd left(const VectorXd& x) const { return present + response * x.head(2 * planes()); }
};

Scaled scaled(const ResidualProblem& problem, Least least) {
  const Index planes = problem.response.cols();
  Scaled s;
  s.least = least;
  s.unit = problem.present.cwiseAbs().maxCoeff();
  s.columns = VectorXd::Ones(planes);
  s.most = problem.most.size() == planes ? problem.most : VectorXd::Constant(planes, INFINITY);
  s.present.resize(2 * problem.present.size());
  s.response.resize(s.present.size(), 2 * planes);
  for (Index p = 0; p < planes; ++p) {
    const double length = problem.response.col(p).norm();
    if (length > 0.0) s.columns(p) = s.unit / length;
    s.most(p) /= s.columns(p);
  }
  for (Index i = 0; i < problem.present.size(); ++i) {
    s.present.segment<2>(2 * i) << problem.present(i).real() / s.unit, problem.present(i).imag() / s.unit;
    for (Index p = 0; p < planes; ++p) {
      const std::complex<double> a = problem.response(i, p) * (s.columns(p) / s.unit);
      s.response.block<2, 2>(2 * i, 2 * p) << a.real(), -a.imag(), a.imag(), a.real();
    }
  }
  return s;
}

double objective(const Scaled& s, const VectorXd& x) {
  const VectorXd r = s.left(x);
  if (s.least == Least::squares) return r.squaredNorm();
  double worst = 0.0;
  for (Index i = 0; i < s.rows(); ++i) worst = std::max(worst, r.segment<2>(2 * i).norm());
  return worst;
}

/// Value, gradient and second derivatives of τ·objective + barrier.
struct Expansion {
  double value = 0.0;
  VectorXd gradient;
  MatrixXd curvature;
};

/// −log(ℓ² − |y|²) of one plane's limit.
void add_limit(double most, const Eigen::Vector2d& y, Index at, Expansion& e) {
  const double room = (most - y.norm()) * (most + y.norm());
  e.value -= std::log(room);
  e.gradient.segment<2>(at) += 2.0 / room * y;
  e.curvature.block<2, 2>(at, at) += 2.0 / room * Eigen::Matrix2d::Identity() + 4.0 / (room * room) * y * y.transpose();
}

/// −log(t² − |r|²) of one row, r = present + rows·y.
void add_cone(const MatrixXd& rows, const Eigen::Vector2d& r, double t, Expansion& e) {
  const Index at = rows.cols();
  const double room = (t - r.norm()) * (t + r.norm());
  e.value -= std::log(room);
  const VectorXd pull = rows.transpose() * r;
  e.gradient.head(at) += 2.0 / room * pull;
  e.gradient(at) -= 2.0 * t / room;
  e.curvature.topLeftCorner(at, at) +=
      2.0 / room * rows.transpose() * rows + 4.0 / (room * room) * pull * pull.transpose();
  e.curvature.col(at).head(at) -= 4.0 * t / (room * room) * pull;
  e.curvature.row(at).head(at) -= 4.0 * t / (room * room) * pull.transpose();
  e.curvature(at, at) += 2.0 * (t * t + r.squaredNorm()) / (room * room);
}

bool inside(const Scaled& s, const VectorXd& x) {
  for (Index p = 0; p < s.planes(); ++p)
    if (!(x.segment<2>(2 * p).norm() < s.most(p))) return false;
  if (s.least == Least::squares) return x.allFinite();
  return objective(s, x) < x(x.size() - 1);
}

Expansion expand(const Scaled& s, const VectorXd& x, double tau) {
  const Index unknowns = s.unknowns();
  Expansion e{0.0, VectorXd::Zero(unknowns), MatrixXd::Zero(unknowns, unknowns)};
  const VectorXd r = s.left(x);
  if (s.least == Least::squares) {
    e.value = tau * r.squaredNorm();
    e.gradient = 2.0 * tau * s.response.transpose() * r;
    e.curvature = 2.0 * tau * s.response.transpose() * s.response;
  } else {
    const double t = x(unknowns - 1);
    e.value = tau * t;
    e.gradient(unknowns - 1) = tau;
    for (Index i = 0; i < s.rows(); ++i) add_cone(s.response.middleRows<2>(2 * i), r.segment<2>(2 * i), t, e);
  }
  for (Index p = 0; p < s.planes(); ++p)
    if (std::isfinite(s.most(p))) add_limit(s.most(p), x.segment<2>(2 * p), 2 * p, e);
  return e;
}

/// Newton's step, the shortest one where the curvature is flat (planes that depend on one another).
VectorXd newton_step(const Expansion& e) {
  const VectorXd scale = e.curvature.diagonal().unaryExpr([](double c) { return c > 0.0 ? 1.0 / std::sqrt(c) : 1.0; });
  const MatrixXd even = scale.asDiagonal() * e.curvature * scale.asDiagonal();
  const VectorXd pull = scale.cwiseProduct(e.gradient);
  return -scale.cwiseProduct(least_squares(even, pull));
}

/// To the central path at τ. @return the number of steps.
int descend(const Scaled& s, double tau, VectorXd& x) {
  constexpr int most_steps = 60;
  for (int step = 1; step <= most_steps; ++step) {
    const Expansion here = expand(s, x, tau);
    const VectorXd direction = newton_step(here);
    const double decrement = -here.gradient.dot(direction);  // λ², B & V (9.30)
    if (!(decrement > 1e-12)) return step;
    double length = 1.0;
    for (; length > 1e-12; length *= 0.5) {
      const VectorXd there = x + length * direction;
      if (!inside(s, there)) continue;
      if (expand(s, there, tau).value <= here.value - 0.1 * length * decrement + 1e-13 * std::abs(here.value)) break;
    }
    if (length <= 1e-12) return step;
    x += length * direction;
  }
  return most_steps;
}

double degree(const Scaled& s) {
  double sum = s.least == Least::worst ? 2.0 * static_cast<double>(s.rows()) : 0.0;
  for (Index p = 0; p < s.planes(); ++p) sum += std::isfinite(s.most(p)) ? 1.0 : 0.0;
  return sum;
}

ResidualAnswer answer_of(const Scaled& s, const VectorXd& x, double gap) {
  ResidualAnswer answer;
  answer.converged = x.allFinite();
  answer.added.resize(s.planes());
  for (Index p = 0; p < s.planes(); ++p) answer.added(p) = s.columns(p) * std::complex<double>(x(2 * p), x(2 * p + 1));
  const double least = objective(s, x);
  answer.left = s.unit * (s.least == Least::squares ? std::sqrt(least) : least);
  // √f − √(f − gap)
  answer.gap = s.unit * (s.least == Least::squares ? std::sqrt(least) - std::sqrt(std::max(0.0, least - gap)) : gap);
  return answer;
}

ResidualAnswer direct(const Scaled& s) {
  return answer_of(s, -least_squares(s.response, s.present), 0.0);
}

}  // namespace

ResidualAnswer least_residual(const ResidualProblem& problem, Least least) {
  ResidualAnswer nothing;
  nothing.added = Eigen::VectorXcd::Zero(problem.response.cols());
  if (!problem.response.allFinite() || !problem.present.allFinite()) return nothing;
  nothing.converged = true;
  if (problem.present.size() == 0 || problem.present.cwiseAbs().maxCoeff() == 0.0) return nothing;
  const Scaled s = scaled(problem, least);
  const double degrees = degree(s);
  if (degrees == 0.0) return direct(s);
  const ResidualAnswer free = direct(scaled(problem, Least::squares));
  if (least == Least::squares && ((free.added.cwiseAbs().array() / s.columns.array()) <= s.most.array()).all())
    return free;
  VectorXd x = VectorXd::Zero(s.unknowns());
  if (least == Least::worst) x(x.size() - 1) = 1.5;  // no row is above 1
  constexpr double good_enough = 1e-9;
  constexpr double faster = 15.0;
  int steps = 0;
  double tau = degrees;
  for (;; tau *= faster) {
    steps += descend(s, tau, x);
    if (degrees / tau < good_enough) break;
  }
  ResidualAnswer answer = answer_of(s, x, degrees / tau);
  answer.steps = steps;
  return answer;
}

}  // namespace counterspot
