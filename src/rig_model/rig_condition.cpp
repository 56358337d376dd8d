#include "counterspot/rig_model/rig_condition.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/coverage.hpp"
#include "rig_model/linear_rig.hpp"
#include "rig_model/rig_prior.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr std::size_t jobs_for_drift = 8;
constexpr std::size_t newest_jobs = 4;
constexpr double moved_by = 0.05;
constexpr double loose = 0.5;  // of a pedestal's dynamic stiffness, before a job says something of it

/// f(θ) with its uncertainty, by central differences: θ are logarithms and angles, of the order of one.
template <typename Function>
Estimate estimate_of(const RigModel& model, Function function) {
  constexpr double step = 1e-5;
  VectorXd slope(model.theta.size());
  for (Index i = 0; i < slope.size(); ++i) {
    VectorXd more = model.theta;
    VectorXd less = model.theta;
    more(i) += step;
    less(i) -= step;
    slope(i) = (function(more) - function(less)) / (2.0 * step);
  }
  const MatrixXd before = rig_prior(model).covariance;
  return {function(model.theta), std::sqrt(std::max(0.0, slope.dot(model.covariance * slope))),
          std::sqrt(std::max(0.0, slope.dot(before * slope)))};
}

/// Of a sensor now: with all that it was changed by.
double sensor_now(const RigModel& model, const VectorXd& theta, Index pedestal, bool angle) {
  double value = theta(angle ? RigParameters::gain_rad(pedestal) : RigParameters::ln_gain(pedestal));
  for (std::size_t i = 0; i < model.steps.size(); ++i) {
    if (model.steps[i].pedestal == pedestal) value += theta(model.of_step(i) + (angle ? 1 : 0));
  }
  return value;
}

PedestalCondition pedestal_of(const RigModel& model, Index pedestal, double speed_rad_s) {
  const auto mass = [=](const VectorXd& theta) { return std::exp(theta(RigParameters::ln_mass(pedestal))); };
  const auto stiffness = [=](const VectorXd& theta) { return std::exp(theta(RigParameters::ln_stiffness(pedestal))); };
  const auto damping = [=](const VectorXd& theta) { return std::exp(theta(RigParameters::ln_damping(pedestal))); };
  PedestalCondition condition;
  condition.moving_mass_kg = estimate_of(model, mass);
  condition.natural_frequency_Hz =
      estimate_of(model, [&](const VectorXd& t) { return std::sqrt(stiffness(t) / mass(t)) / turn_rad; });
  condition.damping_ratio =
      estimate_of(model, [&](const VectorXd& t) { return 0.5 * damping(t) / std::sqrt(stiffness(t) * mass(t)); });
  condition.dynamic_stiffness_N_m = estimate_of(model, [&](const VectorXd& t) {
    return std::hypot(stiffness(t) - speed_rad_s * speed_rad_s * mass(t), speed_rad_s * damping(t));
  });
  condition.sensor_gain =
      estimate_of(model, [&](const VectorXd& t) { return std::exp(sensor_now(model, t, pedestal, false)); });
  condition.sensor_angle_rad =
      estimate_of(model, [&](const VectorXd& t) { return sensor_now(model, t, pedestal, true); });
  condition.sensor_angle_rad.value = std::remainder(condition.sensor_angle_rad.value, turn_rad);
  condition.sensor_angle_rad.scale = 1.0;
  return condition;
}

/// Weighted least squares of ln of both pedestals' dynamic stiffness from one lesson, all else at θ̂; what scatters
/// beside it is noise.
PedestalReading reading_of(const RigModel& model, std::size_t a) {
  const RigLesson& lesson = model.lessons[a];
  const LinearLesson linear = linearised(model.theta, model.steps, a, lesson.shaft, lesson.speed_rad_s, lesson.motions);
  MatrixXd noise = linear.by_shaft * linear.by_shaft.transpose();
  const double beside = std::hypot(model.scatter.each, model.scatter.smooth);
  noise.diagonal() += beside * beside * linear.size.cwiseAbs2();
  noise = lesson.rows * noise * lesson.rows.transpose();
  noise.diagonal().array() += 1.0;
  MatrixXd effect(linear.alpha.size(), 2);
  for (Index i = 0; i < 2; ++i) effect.col(i) = linear.by_clamping.middleCols(3 * i, 3).rowwise().sum();
  const MatrixXd seen = lesson.rows * effect;
  const Eigen::LLT<MatrixXd> factor(noise);
  const Eigen::Matrix2d information =
      seen.transpose() * factor.solve(seen) + Eigen::Matrix2d::Identity() / (loose * loose);
  const Eigen::Matrix2d covariance = information.inverse();
  const VectorXd misfit = lesson.values - lesson.rows * linear.alpha;
  const Eigen::Vector2d change = covariance * (seen.transpose() * factor.solve(misfit));
  const bool aside = std::any_of(model.set_aside.begin(), model.set_aside.end(),
                                 [&](const SetAside& each) { return each.lesson == a; });
  return {lesson.job,
          lesson.at_unix_s,
          {Estimate{change(0), std::sqrt(covariance(0, 0))}, Estimate{change(1), std::sqrt(covariance(1, 1))}},
          aside};
}

Estimate weighted_mean(const std::vector<Estimate>& values) {
  double weights = 0.0;
  double sum = 0.0;
  for (const Estimate& each : values) {
    weights += 1.0 / (each.u * each.u);
    sum += each.value / (each.u * each.u);
  }
  return {sum / weights, 1.0 / std::sqrt(weights)};
}

std::optional<PedestalDrift> drift_of(const RigCondition& condition, const RigScatter& scatter, std::size_t pedestal) {
  std::vector<Estimate> values;
  for (const PedestalReading& each : condition.readings) {
    if (each.set_aside) continue;
    const Estimate& change = each.change[pedestal];
    values.push_back({change.value, std::hypot(change.u, scatter.clamping)});
  }
  if (values.size() < jobs_for_drift) return std::nullopt;
  const auto newest = values.end() - static_cast<std::ptrdiff_t>(newest_jobs);
  const Estimate before = weighted_mean({values.begin(), newest});
  const Estimate after = weighted_mean({newest, values.end()});
  PedestalDrift drift;
  drift.change = {std::exp(after.value - before.value) - 1.0, std::hypot(after.u, before.u)};
  double of_one = 0.0;
  for (const Estimate& each : values) of_one += each.u / static_cast<double>(values.size());
  drift.control_limit = 3.0 * of_one;
  drift.moved = std::abs(drift.change.value) > std::max(moved_by, 3.0 * drift.change.u);
  return drift;
}

double u_relative(const CoefficientPrior& prior) {
  return std::sqrt(prior.covariance.trace() / prior.mean.squaredNorm());
}

/// Is a speed less than 30 % away from where a resonance may be?
bool may_be_near(const Estimate& rate_rad_s, double speed_rad_s) {
  const double apart = std::log(1.3) + coverage_factor * rate_rad_s.u / rate_rad_s.value;
  return std::abs(std::log(speed_rad_s / rate_rad_s.value)) < apart;
}

/// A steel tube with five kilograms at its ends.
Shaft plain_shaft(double span_m) {
  Shaft shaft;
  shaft.tube = Tube{0.0762, 0.0021, span_m - 0.06};
  shaft.supports = Supports{-0.03, span_m - 0.03, 0.5 * span_m - 0.03};
  shaft.mass_kg = tube_mass_kg(*shaft.tube) + 5.0;
  shaft.planes = {{"A", 0.05, 0.04}, {"B", span_m - 0.11, 0.04}};
  return shaft;
}

std::vector<Reach> reach_of(const RigModel& model, std::vector<double> speeds) {
  const std::array<Motion, 2>& motions = model.lessons.back().motions;
  speeds = {speeds.front(), speeds[speeds.size() / 2], speeds.back()};
  speeds.erase(std::unique(speeds.begin(), speeds.end(), [](double one, double other) { return other < 1.05 * one; }),
               speeds.end());
  std::vector<Reach> reach;
  for (const double span_m : {0.6, 1.0, 1.4, 1.8}) {
    const auto body = dynamics_of(plain_shaft(span_m));
    if (!body) continue;
    const auto foretold = predict(model, *body, speeds, motions);
    for (std::size_t i = 0; i < speeds.size(); ++i)
      reach.push_back({span_m, body->total_kg, speeds[i], u_relative(foretold[i])});
  }
  return reach;
}

/// exp of a parameter.
Estimate exp_of(const RigModel& model, Index parameter) {
  return estimate_of(model, [=](const VectorXd& t) { return std::exp(t(parameter)); });
}

bool known_among_speeds(const RigModel& model, const Estimate& rate_Hz) {
  const auto [slowest, fastest] = std::minmax_element(
      model.lessons.begin(), model.lessons.end(),
      [](const RigLesson& one, const RigLesson& other) { return one.speed_rad_s < other.speed_rad_s; });
  const double rate_rad_s = turn_rad * rate_Hz.value;
  return is_known(rate_Hz) && rate_rad_s > slowest->speed_rad_s && rate_rad_s < fastest->speed_rad_s;
}

BedCondition bed_of(const RigModel& model) {
  BedCondition bed{exp_of(model, RigParameters::bed_ln_mass),
                   exp_of(model, RigParameters::bed_ln_move),
                   exp_of(model, RigParameters::bed_ln_tilt),
                   {}};
  for (const Estimate& each : {bed.moves_Hz, bed.tilts_Hz})
    if (known_among_speeds(model, each)) bed.resonances_rad_s.push_back(turn_rad * each.value);
  return bed;
}

AttachedCondition attached_of(const RigModel& model, Index first) {
  constexpr double as_good_as_alone = 0.25;
  const auto mass = [first](const VectorXd& t, Index pedestal) {
    return std::pow(t(first + RigParameters::attached_to(pedestal)), 2);
  };
  const Index heavier = mass(model.theta, 1) > mass(model.theta, 0) ? 1 : 0;
  AttachedCondition attached;
  attached.pedestal = static_cast<std::size_t>(heavier);
  attached.mass_kg = estimate_of(model, [&](const VectorXd& t) { return mass(t, heavier); });
  attached.on_both = mass(model.theta, 1 - heavier) > as_good_as_alone * attached.mass_kg.value;
  attached.swings_Hz = exp_of(model, first + RigParameters::attached_ln_rate);
  attached.among_speeds = known_among_speeds(model, attached.swings_Hz);
  return attached;
}

/// Room for more freedoms. @return the first of them.
Index grown_by(Index more, MatrixXd& mass, MatrixXd& stiffness) {
  const Index before = mass.rows();
  for (MatrixXd* each : {&mass, &stiffness}) each->conservativeResizeLike(MatrixXd::Zero(before + more, before + more));
  return before;
}

/// The pedestals' springs end on a plate that moves and tilts.
void add_bed(const VectorXd& theta, double span_m, const Eigen::Matrix2d& spring, MatrixXd& mass, MatrixXd& stiffness) {
  const Index at = grown_by(2, mass, stiffness);
  const double off = theta(RigParameters::bed_off_center);
  Eigen::Matrix2d places;
  places << 1.0, off - 0.5 * span_m, 1.0, off + 0.5 * span_m;
  const double bed_kg = std::exp(theta(RigParameters::bed_ln_mass));
  const Eigen::Vector2d inert(bed_kg, bed_kg * std::exp(2.0 * theta(RigParameters::bed_ln_radius)));
  mass.diagonal().tail<2>() = inert;
  stiffness.block<2, 2>(0, at) = -spring * places;
  stiffness.block<2, 2>(at, 0) = -places.transpose() * spring;
  stiffness.block<2, 2>(at, at) = places.transpose() * spring * places;
  const std::array<Index, 2> ln_Hz{RigParameters::bed_ln_move, RigParameters::bed_ln_tilt};
  for (Index i = 0; i < 2; ++i)
    stiffness(at + i, at + i) += inert(i) * std::pow(turn_rad * std::exp(theta(ln_Hz[static_cast<std::size_t>(i)])), 2);
}

/// A unit of mass y on a spring whose other end moves as cᵀq: ½ z (y − cᵀq)².
void add_attached(const VectorXd& own, MatrixXd& mass, MatrixXd& stiffness) {
  const Index at = grown_by(1, mass, stiffness);
  const Eigen::Vector2d c = own.head<2>();
  const double spring = std::pow(turn_rad * std::exp(own(RigParameters::attached_ln_rate)), 2);
  mass(at, at) = 1.0;
  stiffness(at, at) = spring;
  stiffness.topLeftCorner<2, 2>() += spring * c * c.transpose();
  stiffness.block<2, 1>(0, at) = -spring * c;
  stiffness.block<1, 2>(at, 0) = -spring * c.transpose();
}

}  // namespace

bool is_known(const Estimate& estimate) {
  const double most =
      known_within / coverage_factor * (estimate.scale > 0.0 ? estimate.scale : std::abs(estimate.value));
  return estimate.u <= most && (estimate.u <= 0.5 * estimate.u_before || estimate.u_before <= most);
}

RigCondition condition_of(const RigModel& model) {
  RigCondition condition;
  std::vector<double> speeds;
  for (const RigLesson& lesson : model.lessons) speeds.push_back(lesson.speed_rad_s);
  std::sort(speeds.begin(), speeds.end());
  condition.usual_speed_rad_s = speeds[speeds.size() / 2];
  for (Index i = 0; i < 2; ++i)
    condition.pedestals[static_cast<std::size_t>(i)] = pedestal_of(model, i, condition.usual_speed_rad_s);
  for (Index i = 0; i < 3; ++i) {
    Estimate& coupling = condition.coupling[static_cast<std::size_t>(i)];
    coupling = estimate_of(model, [&](const VectorXd& t) { return t(RigParameters::coupling_stiffness + i); });
    coupling.scale = 1.0;
  }
  const RigBodies bodies = model.form().bodies;
  if (bodies.bed) condition.bed = bed_of(model);
  for (int body = 0; body < bodies.attached; ++body)
    condition.attached.push_back(attached_of(model, bodies.attached_first(body)));
  for (std::size_t a = 0; a < model.lessons.size(); ++a) condition.readings.push_back(reading_of(model, a));
  for (std::size_t pedestal : {0U, 1U}) condition.drift[pedestal] = drift_of(condition, model.scatter, pedestal);
  condition.reach = reach_of(model, speeds);
  return condition;
}

std::vector<double> resonances_rad_s(const VectorXd& theta, const ShaftDynamics& shaft) {
  constexpr Index freedoms = ShaftDynamics::freedoms;
  const RigBodies bodies = *RigBodies::of(theta.size());
  MatrixXd mass = MatrixXd::Zero(freedoms, freedoms);
  MatrixXd stiffness = MatrixXd::Zero(freedoms, freedoms);
  mass.topLeftCorner<4, 4>() = shaft.mass_kg;
  stiffness.diagonal().head<4>() = shaft.stiffness_N_m;
  Eigen::Matrix2d spring = Eigen::Matrix2d::Zero();
  std::array<double, 2> moving_kg{};
  for (Index i = 0; i < 2; ++i) {
    moving_kg[static_cast<std::size_t>(i)] = std::exp(theta(RigParameters::ln_mass(i)));
    spring(i, i) = std::exp(theta(RigParameters::ln_stiffness(i)));
    mass(i, i) += moving_kg[static_cast<std::size_t>(i)];
  }
  const double with_mass = theta(RigParameters::coupling_mass) * std::sqrt(moving_kg[0] * moving_kg[1]);
  mass(0, 1) += with_mass;
  mass(1, 0) += with_mass;
  spring(0, 1) = spring(1, 0) = theta(RigParameters::coupling_stiffness) * std::sqrt(spring(0, 0) * spring(1, 1));
  stiffness.topLeftCorner<2, 2>() += spring;
  if (bodies.bed) add_bed(theta, shaft.span_m, spring, mass, stiffness);
  for (int body = 0; body < bodies.attached; ++body)
    add_attached(theta.segment(bodies.attached_first(body), RigParameters::of_attached), mass, stiffness);
  const Eigen::GeneralizedSelfAdjointEigenSolver<MatrixXd> solver(stiffness, mass, Eigen::EigenvaluesOnly);
  std::vector<double> rates;
  for (const double squared : solver.eigenvalues()) rates.push_back(std::sqrt(std::max(0.0, squared)));
  return rates;
}

std::vector<Estimate> resonances_of(const RigModel& model, const ShaftDynamics& shaft) {
  const auto of = [&](const VectorXd& theta) { return resonances_rad_s(theta.head(model.of_step(0)), shaft); };
  const std::vector<double> rates = of(model.theta);
  std::vector<Estimate> all;
  for (std::size_t i = 0; i < rates.size(); ++i)
    all.push_back({rates[i], rates[i] * estimate_of(model, [&](const VectorXd& t) { return std::log(of(t)[i]); }).u});
  return all;
}

SpeedAdvice speed_advice(const RigModel& model, const ShaftDynamics& shaft, double least_rad_s, double most_rad_s) {
  constexpr int tried = 41;
  constexpr double nearly_as_well = 1.25;
  SpeedAdvice advice;
  advice.resonances_rad_s = resonances_of(model, shaft);
  if (most_rad_s < least_rad_s) return advice;
  std::vector<double> speeds;
  for (int i = 0; i < tried; ++i) speeds.push_back(least_rad_s * std::pow(most_rad_s / least_rad_s, i / (tried - 1.0)));
  const auto foretold = predict(model, shaft, speeds, model.lessons.back().motions);
  double least_u = 1e300;
  for (std::size_t i = 0; i < speeds.size(); ++i) {
    SpeedTried each{speeds[i], foretold[i].mean.cwiseAbs().maxCoeff(), u_relative(foretold[i]), false};
    for (const Estimate& rate : advice.resonances_rad_s)
      each.near_resonance = each.near_resonance || may_be_near(rate, each.speed_rad_s);
    if (!each.near_resonance) least_u = std::min(least_u, each.u_relative);
    advice.speeds.push_back(each);
  }
  for (const SpeedTried& each : advice.speeds) {
    if (each.near_resonance || each.u_relative > nearly_as_well * least_u) continue;
    if (!advice.best || each.response > advice.best->response) advice.best = each;
  }
  return advice;
}

}  // namespace counterspot
