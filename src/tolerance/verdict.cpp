#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cassert>
#include <cmath>

#include "counterspot/placement/fitting.hpp"
#include "counterspot/tolerance/tolerance.hpp"

namespace counterspot {

namespace {

Held held_at(HeldPlace place, const Phasor& residual, const Eigen::Matrix2d& covariance, double limit_kg_m) {
  Held held{std::move(place), std::abs(residual), u_of_magnitude(residual, covariance), limit_kg_m};
  held.verdict = verdict_of(held.residual_kg_m, held.u_residual_kg_m, limit_kg_m);
  return held;
}

/// The covariance of Σ effect_p U_p, of real effects.
Eigen::Matrix2d carried(const Eigen::MatrixXd& covariance, const std::vector<Phasor>& effect) {
  Eigen::Matrix2Xd lever = Eigen::Matrix2Xd::Zero(2, covariance.cols());
  for (std::size_t p = 0; p < effect.size(); ++p)
    lever.middleCols<2>(static_cast<Eigen::Index>(2 * p)) = effect[p].real() * Eigen::Matrix2d::Identity();
  return lever * covariance * lever.transpose();
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

void hold_also(Judgement& judgement, const HeldPlace& place, const Phasor& residual_kg_m,
               const Eigen::Matrix2d& covariance, double limit_kg_m) {
  judgement.held.push_back(held_at(place, residual_kg_m, covariance, limit_kg_m));
  judgement.verdict = worse(judgement.verdict, judgement.held.back().verdict);
}

Judgement judge(const Shaft& shaft, const Limits& limits, const std::vector<Phasor>& residual_kg_m,
                const Eigen::MatrixXd& covariance) {
  Judgement judgement;
  for (const AimRow& row : aim_at_unbalance(shaft, residual_kg_m, limits.planes, limits.supports))
    judgement.held.push_back(held_at(row.place, row.present, carried(covariance, row.effect), row.limit));
  if (judgement.held.empty()) return judgement;
  judgement.verdict = limits.without.empty() ? Verdict::within : Verdict::unsure;
  for (const Held& held : judgement.held) judgement.verdict = worse(judgement.verdict, held.verdict);
  return judgement;
}

}  // namespace counterspot
