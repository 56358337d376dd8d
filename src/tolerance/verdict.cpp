#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cassert>
#include <cmath>

#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

namespace {

Held held_at(std::string place, const Phasor& residual, const Eigen::Matrix2d& covariance, double limit_kg_m) {
  Held held{std::move(place), std::abs(residual), u_of_magnitude(residual, covariance), limit_kg_m};
  held.verdict = verdict_of(held.residual_kg_m, held.u_residual_kg_m, limit_kg_m);
  return held;
}

/// What a rigid rotor carries to a support: U = Σ lever_p U_p, and its covariance.
Held held_at_support(const PlaneLimit& limit, const Shaft& shaft, const std::vector<Phasor>& residual,
                     const Eigen::MatrixXd& covariance) {
  auto planes = static_cast<Eigen::Index>(residual.size());
  Eigen::Matrix2Xd lever = Eigen::Matrix2Xd::Zero(2, 2 * planes);
  Phasor carried = 0.0;
  for (Eigen::Index p = 0; p < planes; ++p) {
    const Plane& plane = shaft.planes[static_cast<std::size_t>(p)];
    const double ratio = lever_to_support(*shaft.supports, limit.name, plane.position_m);
    lever.block<2, 2>(0, 2 * p) = ratio * Eigen::Matrix2d::Identity();
    carried += ratio * residual[static_cast<std::size_t>(p)];
  }
  return held_at("support " + limit.name, carried, lever * covariance * lever.transpose(), limit.limit_kg_m);
}

Verdict worse(Verdict one, Verdict other) {
  auto rank = [](Verdict verdict) { return verdict == Verdict::outside ? 2 : verdict == Verdict::unsure ? 1 : 0; };
  return rank(one) >= rank(other) ? one : other;
}

}  // namespace

std::string_view verdict_name(Verdict verdict) {
  switch (verdict) {
    case Verdict::within: return "within";
    case Verdict::outside: return "outside";
    case Verdict::unsure: return "unsure";
  }
  return "unsure";
}

Verdict verdict_of(double residual_kg_m, double u_residual_kg_m, double limit_kg_m) {
  assert(!(residual_kg_m < 0.0) && !(u_residual_kg_m < 0.0));
  double expanded = coverage_factor * u_residual_kg_m;
  if (residual_kg_m + expanded <= limit_kg_m) return Verdict::within;
  if (residual_kg_m - expanded > limit_kg_m) return Verdict::outside;
  return Verdict::unsure;  // also where a number is not finite
}

double u_of_magnitude(const Phasor& u_vector, const Eigen::Matrix2d& covariance) {
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(covariance, Eigen::EigenvaluesOnly);
  double worst = std::sqrt(std::max(0.0, axes.eigenvalues()(1)));
  double magnitude = std::abs(u_vector);
  if (magnitude <= worst || magnitude == 0.0) return worst;
  Eigen::Vector2d along(u_vector.real() / magnitude, u_vector.imag() / magnitude);
  return std::sqrt(std::max(0.0, along.dot(covariance * along)));
}

void hold_back(Judgement& judgement, const Warnings& warnings) {
  Warnings all = judgement.held_back;
  const Warnings more = holding(warnings);
  all.insert(all.end(), more.begin(), more.end());
  judgement.held_back = gathered(all);
  if (!judgement.held_back.empty()) judgement.verdict = worse(judgement.verdict, Verdict::unsure);
}

void hold_also(Judgement& judgement, const std::string& place, const Phasor& residual_kg_m,
               const Eigen::Matrix2d& covariance, double limit_kg_m) {
  judgement.held.push_back(held_at(place, residual_kg_m, covariance, limit_kg_m));
  judgement.verdict = worse(judgement.verdict, judgement.held.back().verdict);
}

Judgement judge(const Shaft& shaft, const Limits& limits, const std::vector<Phasor>& residual_kg_m,
                const Eigen::MatrixXd& covariance) {
  Judgement judgement;
  for (const PlaneLimit& limit : limits.planes) {
    for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
      if (shaft.planes[p].name != limit.name) continue;
      auto at = static_cast<Eigen::Index>(2 * p);
      judgement.held.push_back(held_at(limit.name, residual_kg_m[p], covariance.block<2, 2>(at, at), limit.limit_kg_m));
    }
  }
  for (const PlaneLimit& limit : limits.supports)
    judgement.held.push_back(held_at_support(limit, shaft, residual_kg_m, covariance));
  if (judgement.held.empty()) return judgement;
  judgement.verdict = limits.without.empty() ? Verdict::within : Verdict::unsure;
  for (const Held& held : judgement.held) judgement.verdict = worse(judgement.verdict, held.verdict);
  return judgement;
}

}  // namespace counterspot
