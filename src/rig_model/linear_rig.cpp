#include "rig_model/linear_rig.hpp"

#include <cmath>

#include "rig_model/response.hpp"

namespace counterspot {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// How well a shaft's file says what it is, one standard deviation (common practice, no source).
constexpr double u_mass = 0.004;
constexpr double u_center = 0.004;  // of the span
constexpr double u_center_not_stated = 0.07;
constexpr double u_bending = 0.05;  // wall and modulus as bought

// What counts as alike, one standard deviation of the kernel's distance being 1.5 of these (tried, no source).
constexpr double alike_ln_mass = 0.35;
constexpr double alike_span_m = 0.5;
constexpr double alike_center = 0.1;
constexpr double alike_ln_speed = 0.3;
constexpr double alike_plane = 0.3;  // of the span
constexpr double alike_bed_m = 0.25;
constexpr double alike_ln_speed_of_mode = 0.2;
constexpr double on_both = 0.3;  // how much of what swings on a pedestal swings on both (tried, no source)

double square_of(double value) {
  return value * value;
}

VectorXd theta_at(const VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson) {
  const Index of_rig = theta.size() - 2 * static_cast<Index>(steps.size());
  VectorXd now = theta.head(of_rig);
  for (std::size_t i = 0; i < steps.size(); ++i) {
    if (steps[i].lesson > lesson) continue;
    const Index at = of_rig + 2 * static_cast<Index>(i);
    now(RigParameters::ln_gain(steps[i].pedestal)) += theta(at);
    now(RigParameters::gain_rad(steps[i].pedestal)) += theta(at + 1);
  }
  return now;
}

VectorXd sizes_of_sensors(const VectorXd& alpha) {
  const Index each = alpha.size() / 2;
  VectorXd sizes(alpha.size());
  for (Index s = 0; s < 2; ++s)
    sizes.segment(s * each, each)
        .setConstant(alpha.segment(s * each, each).norm() / std::sqrt(0.5 * static_cast<double>(each)));
  return sizes;
}

/// With a column for each step of a sensor that lies before the lesson.
MatrixXd with_steps(const MatrixXd& by_theta, const std::vector<SensorStep>& steps, std::size_t lesson) {
  MatrixXd all = MatrixXd::Zero(by_theta.rows(), by_theta.cols() + 2 * static_cast<Index>(steps.size()));
  all.leftCols(by_theta.cols()) = by_theta;
  for (std::size_t i = 0; i < steps.size(); ++i) {
    if (steps[i].lesson > lesson) continue;
    all.middleCols(by_theta.cols() + 2 * static_cast<Index>(i), 2) =
        by_theta.middleCols(RigParameters::ln_gain(steps[i].pedestal), 2);
  }
  return all;
}

/// The coefficients times −j: what a change of the dynamic stiffness by j times as much does in lag phasors.
VectorXd turned_back(const VectorXd& coefficients) {
  VectorXd turned(coefficients.size());
  for (Index at = 0; at < turned.size(); at += 2) turned.segment<2>(at) << coefficients(at + 1), -coefficients(at);
  return turned;
}

}  // namespace

VectorXd coefficients_at(const VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson,
                         const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions) {
  return rig_coefficients(theta_at(theta, steps, lesson), shaft, speed_rad_s, motions);
}

MatrixXd by_theta_of(const VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson,
                     const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions) {
  return with_steps(RigResponse(theta_at(theta, steps, lesson), shaft, speed_rad_s, motions).by_theta(), steps, lesson);
}

LinearLesson linearised(const VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson,
                        const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions) {
  const RigResponse response(theta_at(theta, steps, lesson), shaft, speed_rad_s, motions);
  LinearLesson linear;
  linear.alpha = response.coefficients();
  linear.size = sizes_of_sensors(linear.alpha);
  const MatrixXd by_theta = response.by_theta();
  linear.by_theta = with_steps(by_theta, steps, lesson);
  linear.by_clamping.resize(linear.alpha.size(), 6);
  for (Index i = 0; i < 2; ++i)
    linear.by_clamping.middleCols(3 * i, 3) = by_theta.middleCols(RigParameters::ln_mass(i), 3);
  linear.by_shaft.resize(linear.alpha.size(), 3);
  linear.by_shaft.col(0) = u_mass * response.by_mass(shaft.heavier_kg);
  linear.by_shaft.col(1) = (shaft.center_stated ? u_center : u_center_not_stated) * response.by_mass(shaft.shifted_kg);
  linear.by_shaft.col(2) = u_bending * response.by_stiffness(shaft.stiffness_N_m);
  return linear;
}

MatrixXd smooth_covariance(const Place& one, const Place& other) {
  const double apart = square_of(std::log(one.shaft.total_kg / other.shaft.total_kg) / alike_ln_mass) +
                       square_of((one.shaft.span_m - other.shaft.span_m) / alike_span_m) +
                       square_of((one.shaft.center_fraction - other.shaft.center_fraction) / alike_center) +
                       square_of(std::log(one.speed_rad_s / other.speed_rad_s) / alike_ln_speed);
  const auto planes = static_cast<Index>(one.shaft.plane_fractions.size());
  const auto other_planes = static_cast<Index>(other.shaft.plane_fractions.size());
  MatrixXd covariance = MatrixXd::Zero(4 * planes, 4 * other_planes);
  for (Index s = 0; s < 2; ++s) {
    for (Index p = 0; p < planes; ++p) {
      for (Index q = 0; q < other_planes; ++q) {
        const Index row = 2 * (s * planes + p);
        const Index column = 2 * (s * other_planes + q);
        const double plane = square_of((one.shaft.plane_fractions[static_cast<std::size_t>(p)] -
                                        other.shaft.plane_fractions[static_cast<std::size_t>(q)]) /
                                       alike_plane);
        const double value = one.linear.size(row) * other.linear.size(column) * std::exp(-(apart + plane) / 4.5);
        covariance(row, column) = value;
        covariance(row + 1, column + 1) = value;
      }
    }
  }
  return covariance;
}

MatrixXd bed_covariance(const Place& one, const Place& other) {
  const double apart = square_of((one.shaft.span_m - other.shaft.span_m) / alike_bed_m);
  MatrixXd covariance = MatrixXd::Zero(one.linear.alpha.size(), other.linear.alpha.size());
  for (Index i = 0; i < 2; ++i) {
    const Index stiffness = RigParameters::ln_stiffness(i);
    covariance += one.linear.by_theta.col(stiffness) * other.linear.by_theta.col(stiffness).transpose();
  }
  return std::exp(-0.5 * apart) * covariance;
}

MatrixXd speed_covariance(const Place& one, const Place& other) {
  const double apart = std::abs(std::log(one.speed_rad_s / other.speed_rad_s)) / alike_ln_speed_of_mode;
  MatrixXd covariance = MatrixXd::Zero(one.linear.alpha.size(), other.linear.alpha.size());
  for (const Index mass : {RigParameters::ln_mass(0), RigParameters::ln_mass(1), RigParameters::coupling_mass}) {
    const VectorXd here = one.linear.by_theta.col(mass);
    const VectorXd there = other.linear.by_theta.col(mass);
    const double part = mass == RigParameters::coupling_mass ? square_of(on_both) : 1.0;
    covariance += part * (here * there.transpose() + turned_back(here) * turned_back(there).transpose());
  }
  return std::exp(-apart) * covariance;
}

ScatterParts parts_of(const RigScatter& scatter) {
  return {scatter.clamping, scatter.each, scatter.smooth, scatter.along_bed, scatter.over_speed};
}

RigScatter scatter_of(const ScatterParts& parts) {
  return {parts(0), parts(1), parts(2), parts(3), parts(4)};
}

RigScatter physics_alone(RigScatter scatter) {
  scatter.smooth = scatter.along_bed = scatter.over_speed = 0.0;
  return scatter;
}

MatrixXd Assembled::covariance(const RigScatter& scatter) const {
  MatrixXd sum = fixed;
  const ScatterParts sizes = parts_of(scatter);
  for (Index i = 0; i < sizes.size(); ++i)
    if (sizes(i) > 0.0) sum += sizes(i) * sizes(i) * parts[static_cast<std::size_t>(i)];
  return sum;
}

Assembled assemble(const RigModel& model) {
  Assembled all;
  all.begins = {0};
  for (const RigLesson& lesson : model.lessons) all.begins.push_back(all.begins.back() + lesson.values.size());
  const Index size = all.begins.back();
  all.misfit.resize(size);
  all.by_theta.resize(size, model.theta.size());
  all.fixed = MatrixXd::Identity(size, size);
  all.parts.assign(5, MatrixXd::Zero(size, size));
  for (std::size_t a = 0; a < model.lessons.size(); ++a) {
    const RigLesson& lesson = model.lessons[a];
    all.linear.push_back(linearised(model.theta, model.steps, a, lesson.shaft, lesson.speed_rad_s, lesson.motions));
    all.misfit.segment(all.first(a), all.rows(a)) = lesson.values - lesson.rows * all.linear[a].alpha;
    all.by_theta.middleRows(all.first(a), all.rows(a)) = lesson.rows * all.linear[a].by_theta;
  }
  for (std::size_t a = 0; a < model.lessons.size(); ++a) {
    const RigLesson& one = model.lessons[a];
    const Place here{one.shaft, one.speed_rad_s, all.linear[a]};
    for (std::size_t b = 0; b <= a; ++b) {
      const RigLesson& other = model.lessons[b];
      const Place there{other.shaft, other.speed_rad_s, all.linear[b]};
      auto add = [&](MatrixXd& part, const MatrixXd& covariance) {
        const MatrixXd block = one.rows * covariance * other.rows.transpose();
        part.block(all.first(a), all.first(b), all.rows(a), all.rows(b)) += block;
        if (a != b) part.block(all.first(b), all.first(a), all.rows(b), all.rows(a)) += block.transpose();
      };
      if (one.job == other.job) {
        add(all.fixed, here.linear.by_shaft * there.linear.by_shaft.transpose());
        add(all.parts[0], here.linear.by_clamping * there.linear.by_clamping.transpose());
      }
      if (a == b) add(all.parts[1], MatrixXd(here.linear.size.cwiseAbs2().asDiagonal()));
      add(all.parts[2], smooth_covariance(here, there));
      add(all.parts[3], bed_covariance(here, there));
      add(all.parts[4], speed_covariance(here, there));
    }
  }
  return all;
}

}  // namespace counterspot
