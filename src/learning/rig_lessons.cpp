#include "learning/rig_lessons.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/solve/solution.hpp"
#include "counterspot/units/error.hpp"
#include "influence/design_matrix.hpp"
#include "influence/regression.hpp"
#include "learning/alike_spins.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double one_speed_fraction = 0.02;  // spins this near to one another are brought to one speed
constexpr double least_information = 1e-3;   // per coefficient: one that is known to no better than 30 times its size

/// Spins near in speed, group after group, each brought to the speed of its last spin.
std::vector<std::vector<SpinReading>> groups_at_one_speed(const ShaftSpins& job) {
  std::vector<std::vector<SpinReading>> groups;
  for (const SpinReading& spin : job.spins) {
    if (!spin.speed_rad_s) continue;
    auto home = std::find_if(groups.begin(), groups.end(), [&](const auto& group) {
      return std::abs(*spin.speed_rad_s / *group.front().speed_rad_s - 1.0) < one_speed_fraction;
    });
    if (home == groups.end()) home = groups.insert(groups.end(), std::vector<SpinReading>());
    home->push_back(spin);
  }
  for (auto& group : groups)
    for (SpinReading& spin : group) spin = bring_to_speed(spin, job.motions, *group.back().speed_rad_s);
  return groups;
}

bool can_teach(const std::vector<SpinReading>& spins) {
  auto differs = [&](const SpinReading& spin) { return !(spin.fitted == spins.front().fitted); };
  return uncertainties_known(spins) && std::any_of(spins.begin(), spins.end(), differs) && !turned_in_between(spins);
}

Eigen::VectorXcd weights_on(const SpinReading& spin, Index planes) {
  Eigen::VectorXcd weights = Eigen::VectorXcd::Zero(planes);
  for (const FittedWeight& piece : spin.fitted) weights(piece.plane) += piece.unbalance_kg_m();
  return weights;
}

bool same_sensors(const Rig& one, const Rig& other) {
  return has_rig_model(one) && has_rig_model(other) && one.sensors[0].name == other.sensors[0].name &&
         one.sensors[1].name == other.sensors[1].name;
}

/// The information as rows of unit noise: I = VDVᵀ, rows = D^½Vᵀ, values = D^−½Vᵀh, where there is any.
void condense(const CoefficientInformation& information, const VectorXd& guess, RigLesson& lesson) {
  const Index each = guess.size() / 2;
  VectorXd sizes(guess.size());
  for (Index s = 0; s < 2; ++s)
    sizes.segment(s * each, each)
        .setConstant(guess.segment(s * each, each).norm() / std::sqrt(0.5 * static_cast<double>(each)));
  const MatrixXd scaled = sizes.asDiagonal() * information.matrix * sizes.asDiagonal();
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(0.5 * (scaled + scaled.transpose()));
  const double rounding = 1e-10 * solver.eigenvalues().maxCoeff();
  std::vector<Index> told;
  for (Index i = 0; i < guess.size(); ++i)
    if (solver.eigenvalues()(i) > std::max(least_information, rounding)) told.push_back(i);
  const MatrixXd directions = solver.eigenvectors()(Eigen::all, told);
  const VectorXd roots = solver.eigenvalues()(told).cwiseSqrt();
  lesson.rows = roots.asDiagonal() * directions.transpose() * sizes.cwiseInverse().asDiagonal();
  lesson.values = roots.cwiseInverse().asDiagonal() * (directions.transpose() * sizes.cwiseProduct(information.vector));
}

}  // namespace

VectorXd shortest_coefficients(const std::vector<SpinReading>& spins, Index planes) {
  const auto sensors = static_cast<Index>(spins.front().vectors.size());
  const auto changes = static_cast<Index>(spins.size()) - 1;
  Eigen::MatrixXcd weights(changes, planes);
  Eigen::MatrixXcd read(changes, sensors);
  for (Index k = 0; k < changes; ++k) {
    const SpinReading& spin = spins[static_cast<std::size_t>(k) + 1];
    weights.row(k) = (weights_on(spin, planes) - weights_on(spins.front(), planes)).transpose();
    for (Index s = 0; s < sensors; ++s)
      read(k, s) = spin.vectors[static_cast<std::size_t>(s)] - spins.front().vectors[static_cast<std::size_t>(s)];
  }
  const Eigen::MatrixXcd square = weights.adjoint() * weights;
  const double little = 1e-9 * square.trace().real();
  const Eigen::MatrixXcd alpha =
      (square + little * Eigen::MatrixXcd::Identity(planes, planes)).ldlt().solve(weights.adjoint() * read);
  VectorXd stacked(2 * sensors * planes);
  for (Index s = 0; s < sensors; ++s)
    for (Index p = 0; p < planes; ++p)
      stacked.segment<2>(2 * (s * planes + p)) << alpha(p, s).real(), alpha(p, s).imag();
  return stacked;
}

std::optional<ShaftDynamics> body_of(const Shaft& shaft) {
  try {
    return dynamics_of(shaft);
  } catch (const Error&) {  // commands that ask for the shaft itself say what is wrong with it
    return std::nullopt;
  }
}

std::vector<RigLesson> lessons_of(const ShaftSpins& job, const Rig& rig, const std::vector<Motion>& motions,
                                  const RigModel* known) {
  std::vector<RigLesson> lessons;
  const Rig& of_job = job.rig();
  if (!same_sensors(of_job, rig) || job.motions != motions || job.spins.size() < 2) return lessons;
  const Shaft& shaft = job.shaft();
  const auto planes = static_cast<Index>(shaft.planes.size());
  std::optional<ShaftDynamics> body;
  for (const std::vector<SpinReading>& spins : groups_at_one_speed(job)) {
    if (!can_teach(spins)) continue;
    if (!body) body = body_of(shaft);
    if (!body) return lessons;
    RigLesson lesson{job.uid, job.opened_unix_s, *body, *spins.back().speed_rad_s, {motions[0], motions[1]}, {}, {}};
    VectorXd guess = shortest_coefficients(spins, planes);
    if (known != nullptr) {
      guess = rig_coefficients(known->theta.head(known->of_step(0)), *body, lesson.speed_rad_s, lesson.motions);
    }
    condense(information_of(spins, static_cast<int>(planes), of_job.setting, guess), guess, lesson);
    if (lesson.values.size() > 0) lessons.push_back(std::move(lesson));
  }
  return lessons;
}

std::optional<RigLesson> lesson_of(const ReferenceShaft& reference, const Rig& rig,
                                   const std::vector<Motion>& motions) {
  const Rig& of_work = reference.rig_file.value();
  if (reference.motions != motions || motions.size() != 2 || !same_sensors(of_work, rig)) return std::nullopt;
  auto body = body_of(reference.shaft_file.value());
  if (!body || body->plane_fractions.size() != 2) return std::nullopt;
  const SettingUncertainty& setting = of_work.setting;
  const double set_wrong = std::hypot(setting.mass_fraction, setting.angle_rad);
  RigLesson lesson{
      reference.uid, reference.at_unix_s, std::move(*body), reference.speed_rad_s, {motions[0], motions[1]}, {}, {}};
  VectorXd alpha(8);
  VectorXd weights(8);
  for (Index s = 0; s < 2; ++s) {
    weights.segment<4>(4 * s).setConstant(std::sqrt(2.0) / (set_wrong * reference.coefficients.row(s).norm()));
    for (Index p = 0; p < 2; ++p) {
      const Phasor value = reference.coefficients(s, p);
      alpha.segment<2>(4 * s + 2 * p) << value.real(), value.imag();
    }
  }
  lesson.rows = weights.asDiagonal();
  lesson.values = weights.cwiseProduct(alpha);
  return lesson;
}

}  // namespace counterspot
