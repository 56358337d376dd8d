#include "rigsim/dynamics.hpp"

#include <Eigen/LU>
#include <cmath>

namespace rigsim {

namespace {

using Complex = std::complex<double>;
constexpr Complex j(0.0, 1.0);

double span_m(const ShaftTruth& shaft) {
  return shaft.support_b_m - shaft.support_a_m;
}

/// One differentiation with respect to time is −jΩ in lag phasors.
Complex motion_factor(counterspot::Motion motion, double rate_rad_s) {
  switch (motion) {
    case counterspot::Motion::displacement: return 1.0;
    case counterspot::Motion::velocity: return -j * rate_rad_s;
    case counterspot::Motion::unscaled:  // what moves has a scale
    case counterspot::Motion::acceleration: return -rate_rad_s * rate_rad_s;
  }
  return 0.0;
}

/// conj of the one-pole high pass jω/(ω_c + jω).
Complex coupling_factor(double coupling_Hz, double rate_rad_s) {
  return std::conj(j * rate_rad_s / (counterspot::turn_rad * coupling_Hz + j * rate_rad_s));
}

}  // namespace

Eigen::Vector3d shapes_at(const ShaftTruth& shaft, double position_m) {
  double fraction = (position_m - shaft.support_a_m) / span_m(shaft);
  return {1.0 - fraction, fraction, std::sin(counterspot::pi * fraction)};
}

MovingParts moving_parts(const RigTruth& rig, const ShaftTruth& shaft) {
  MovingParts parts{Eigen::Matrix3d::Zero(), Eigen::Matrix3d::Zero(), Eigen::Matrix3d::Zero()};
  constexpr int count = 400;  // midpoint rule, to about 1e-5 of the integrals
  const double length = (shaft.tube_end_m - shaft.tube_begin_m) / count;
  const double wave = counterspot::pi / span_m(shaft);
  for (int i = 0; i < count; ++i) {
    Eigen::Vector3d shapes = shapes_at(shaft, shaft.tube_begin_m + (i + 0.5) * length);
    parts.mass += shaft.tube_kg_m * length * shapes * shapes.transpose();
    parts.stiffness(2, 2) += shaft.tube_bending_stiffness_N_m2 * length * std::pow(wave * wave * shapes(2), 2);
  }
  for (const EndMass& end : shaft.ends) {
    Eigen::Vector3d shapes = shapes_at(shaft, end.position_m);
    parts.mass += end.mass_kg * shapes * shapes.transpose();
  }
  for (int i = 0; i < 2; ++i) {
    const Pedestal& pedestal = rig.pedestals[static_cast<std::size_t>(i)];
    parts.mass(i, i) += pedestal.mass_kg;
    parts.stiffness(i, i) += pedestal.stiffness_N_m;
    parts.damping(i, i) += pedestal.damping_N_s_m;
  }
  parts.damping(2, 2) = 2.0 * shaft.bending_damping * std::sqrt(parts.stiffness(2, 2) * parts.mass(2, 2));
  return parts;
}

Eigen::Vector3cd generalised_unbalance(const RigTruth& rig, const ShaftTruth& shaft,
                                       const std::vector<UnbalanceSlice>& fitted) {
  Eigen::Vector3cd sum = Eigen::Vector3cd::Zero();
  for (const auto* slices : {&shaft.slices, &fitted}) {
    for (const UnbalanceSlice& slice : *slices) sum += slice.unbalance_kg_m * shapes_at(shaft, slice.position_m);
  }
  return sum * std::polar(1.0, rig.sensor_angle_rad);
}

Eigen::Matrix3cd receptance(const MovingParts& parts, double rate_rad_s) {
  Eigen::Matrix3cd dynamic = (parts.stiffness - rate_rad_s * rate_rad_s * parts.mass).cast<Complex>();
  dynamic += j * rate_rad_s * parts.damping;
  return dynamic.inverse();
}

std::vector<Phasor> steady_vectors(const RigTruth& rig, const ShaftTruth& shaft,
                                   const std::vector<UnbalanceSlice>& fitted, double speed_rad_s) {
  Eigen::Vector3cd force = speed_rad_s * speed_rad_s * generalised_unbalance(rig, shaft, fitted);
  Eigen::Vector3cd moved = receptance(moving_parts(rig, shaft), speed_rad_s).conjugate() * force;
  std::vector<Phasor> vectors;
  for (const SensorTruth& sensor : rig.sensors) {
    vectors.push_back(moved(sensor.pedestal) * motion_factor(sensor.motion, speed_rad_s) *
                      coupling_factor(sensor.coupling_Hz, speed_rad_s));
  }
  return vectors;
}

std::array<Phasor, 2> rigid_equivalent(const ShaftTruth& shaft, const std::vector<UnbalanceSlice>& fitted,
                                       const std::array<double, 2>& positions_m) {
  std::array<Phasor, 2> at{};
  const double apart_m = positions_m[1] - positions_m[0];
  for (const auto* slices : {&shaft.slices, &fitted}) {
    for (const UnbalanceSlice& slice : *slices) {
      at[0] += slice.unbalance_kg_m * (positions_m[1] - slice.position_m) / apart_m;
      at[1] += slice.unbalance_kg_m * (slice.position_m - positions_m[0]) / apart_m;
    }
  }
  return at;
}

std::array<Phasor, 2> equivalent_at_speed(const RigTruth& rig, const ShaftTruth& shaft,
                                          const std::vector<UnbalanceSlice>& fitted,
                                          const std::array<double, 2>& positions_m, double speed_rad_s) {
  Eigen::Matrix3cd response = receptance(moving_parts(rig, shaft), speed_rad_s).conjugate();
  Eigen::Vector2cd moved = (response * generalised_unbalance(rig, shaft, fitted)).head<2>();
  Eigen::Matrix2cd unit;
  for (int i = 0; i < 2; ++i) {
    Eigen::Vector3cd shapes = shapes_at(shaft, positions_m[static_cast<std::size_t>(i)]).cast<Complex>();
    unit.col(i) = (response * shapes).head<2>() * std::polar(1.0, rig.sensor_angle_rad);
  }
  Eigen::Vector2cd at = unit.inverse() * moved;
  return {at(0), at(1)};
}

}  // namespace rigsim
