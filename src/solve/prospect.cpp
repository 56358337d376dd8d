#include "counterspot/solve/prospect.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <random>

#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int draws = 256;            // a chance is known to 3 % then
constexpr double least_chance = 0.1;  // of a later correction; more than ten of them are not counted

std::vector<Phasor> weights_of(const std::vector<FittedWeight>& pieces, std::size_t planes) {
  std::vector<Phasor> weights(planes);
  for (const FittedWeight& piece : pieces) weights[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m();
  return weights;
}

/// Draws of errors, the same in every call, so that one job is always asked for the same.
class Chance {
 public:
  double normal() { return normal_(engine_); }

  /// With that covariance, which may lack a direction.
  std::vector<Phasor> drawn(const MatrixXd& root) {
    VectorXd parts(root.cols());
    for (double& part : parts) part = normal();
    parts = root * parts;
    std::vector<Phasor> values;
    for (Index p = 0; p + 1 < parts.size(); p += 2) values.emplace_back(parts(p), parts(p + 1));
    return values;
  }

  /// What weighing and setting a weight errs by.
  Phasor setting(const Phasor& weight, const SettingUncertainty& of) {
    return weight * Phasor(of.mass_fraction * normal(), of.angle_rad * normal());
  }

 private:
  std::mt19937_64 engine_{1};
  std::normal_distribution<double> normal_;
};

MatrixXd root_of(const MatrixXd& covariance) {
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(covariance);
  return solver.eigenvectors() * solver.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
}

double worst_ratio(const Judgement& judgement) {
  double worst = 0.0;
  for (const Held& held : judgement.held) worst = std::max(worst, held.residual_kg_m / held.limit_kg_m);
  return worst;
}

/// The last spin with more on, read as the coefficients foretell.
SpinReading foretold(const ProspectBasis& basis, const std::vector<FittedWeight>& pieces) {
  SpinReading spin = basis.spins.back();
  const std::size_t planes = basis.shaft.planes.size();
  const std::vector<Phasor> weights = weights_of(pieces, planes);
  const auto& coefficients = basis.solution.influence.coefficients;
  for (std::size_t s = 0; s < spin.vectors.size(); ++s)
    for (std::size_t p = 0; p < planes; ++p) spin.vectors[s] += coefficients[s * planes + p].value * weights[p];
  spin.fitted.insert(spin.fitted.end(), pieces.begin(), pieces.end());
  return spin;
}

Solution solved(const ProspectBasis& basis, const std::vector<SpinReading>& spins) {
  return solve_readings(basis.rig, basis.shaft, spins, basis.motions, basis.options);
}

/// @param after of the spins and the foretold one.
Prospect drawn_prospect(const ProspectBasis& basis, const std::vector<Phasor>& weights, const Solution& after) {
  const Solution& now = basis.solution;
  const MatrixXd root_now = root_of(now.influence.residual_covariance);
  const MatrixXd& covariance = after.influence.residual_covariance;
  const MatrixXd root_after = root_of(covariance);
  const SettingUncertainty& setting = basis.rig.setting;
  const auto judged = [&](const std::vector<Phasor>& residual) {
    return judge(basis.shaft, now.limits, residual, covariance);
  };
  Chance chance;
  int within = 0;
  int falls = 0;
  int within_next = 0;
  for (int i = 0; i < draws; ++i) {
    std::vector<Phasor> before = chance.drawn(root_now);
    std::vector<Phasor> next = chance.drawn(root_after);
    std::vector<Phasor> left(weights.size());
    for (std::size_t p = 0; p < weights.size(); ++p) {
      before[p] += now.influence.planes[p].residual_kg_m;
      left[p] = before[p] + weights[p] + chance.setting(weights[p], setting);
      next[p] += chance.setting(left[p], setting);
    }
    const Judgement then = judged(left);
    falls += worst_ratio(then) < worst_ratio(judged(before)) ? 1 : 0;
    if (then.verdict == Verdict::within)
      ++within;
    else if (judged(next).verdict == Verdict::within)
      ++within_next;
  }
  Prospect prospect{static_cast<double>(within) / draws, static_cast<double>(falls) / draws, 1.0};
  const int missed = draws - within;
  if (missed > 0)
    prospect.spins += (1.0 - prospect.within) / std::max(least_chance, static_cast<double>(within_next) / missed);
  return prospect;
}

std::vector<FittedWeight> correction_of(const Solution& solution, const Shaft& shaft) {
  std::vector<FittedWeight> pieces;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const Phasor& wanted = solution.influence.planes[p].correction_kg_m;
    const double radius_m = shaft.planes[p].radius_m;
    if (wanted != Phasor(0.0))
      pieces.push_back({static_cast<int>(p), std::abs(wanted) / radius_m, radius_m, std::arg(wanted)});
  }
  return pieces;
}

}  // namespace

Prospect prospect_of_correction(const ProspectBasis& basis, const std::vector<FittedWeight>& pieces) {
  std::vector<SpinReading> spins = basis.spins;
  spins.push_back(foretold(basis, pieces));
  try {
    return drawn_prospect(basis, weights_of(pieces, basis.shaft.planes.size()), solved(basis, spins));
  } catch (const Error&) {
    return {};
  }
}

Prospect prospect_of_trial(const ProspectBasis& basis, const std::vector<FittedWeight>& pieces) {
  std::vector<SpinReading> spins = basis.spins;
  spins.insert(spins.end() - 1, foretold(basis, pieces));  // they come off: the shaft's present state stays the last
  try {
    const Solution taught = solved(basis, spins);
    const ProspectBasis then{basis.rig, basis.shaft, basis.motions, basis.options, std::move(spins), taught};
    Prospect prospect = prospect_of_correction(then, correction_of(taught, basis.shaft));
    prospect.falls = drawn_prospect(basis, weights_of(pieces, basis.shaft.planes.size()), taught).falls;
    prospect.within = 0.0;
    prospect.spins += 1.0;
    return prospect;
  } catch (const Error&) {
    return {};
  }
}

}  // namespace counterspot
