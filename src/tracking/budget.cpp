#include "tracking/budget.hpp"

#include <cmath>
#include <optional>

namespace counterspot {
namespace {

/// Of the variance of the speed from turn to turn: where timing makes more than half of it, it tells nothing.
constexpr double least_hunting_share = 0.5;
constexpr double contradiction = 4.0;  // standard uncertainties

Eigen::Matrix2d along(const Phasor& step) {
  const Eigen::Vector2d v(step.real(), step.imag());
  return v * v.transpose();
}

/// The slope that is known better: measured in the hunting of the speed, or modelled. A measured one that contradicts
/// the model is taken whatever its uncertainty.
SpeedSlope slope_of(const JointFit& fit, double scale, const Phasor& value, Motion motion, const Track& spin,
                    double hunting_share) {
  const double n = growth_exponent(motion);
  const SpeedSlope model{n * value / spin.speed_rad_s, std::abs(value) / spin.speed_rad_s, false};
  if (fit.u_slope <= 0.0 || hunting_share < least_hunting_share) return model;
  const double per_rad_s = scale / spin.speed_rad_s / hunting_share;
  const SpeedSlope measured{per_rad_s * fit.slope, per_rad_s * fit.u_slope, true};
  const double apart = std::abs(measured.per_rad_s - model.per_rad_s);
  const bool contradicts = apart > contradiction * std::hypot(measured.u_per_rad_s, model.u_per_rad_s);
  return measured.u_per_rad_s <= model.u_per_rad_s || contradicts ? measured : model;
}

/// Takes a first-order high-pass out of the vector; gives the step that an error of the corner would make.
Phasor undo_coupling(OrderVector& vector, const Sensor& sensor, const Track& spin) {
  const double ratio = *sensor.ac_coupling_Hz * turn_rad / (vector.order * spin.speed_rad_s);
  const Phasor undo(1.0, ratio);
  const Eigen::Matrix2d turn{{undo.real(), -undo.imag()}, {undo.imag(), undo.real()}};
  const Phasor step = Phasor(0.0, ratio) * sensor.ac_coupling_uncertainty * vector.value;
  vector.value *= undo;
  vector.covariance = turn * vector.covariance * turn.transpose();
  vector.slope.per_rad_s *= undo;
  return step;
}

}  // namespace

OrderVector stated_vector(double order, const JointFit& fit, const MotionUnit& unit, const Sensor& sensor,
                          const Track& spin, double hunting_share) {
  OrderVector vector;
  const double scale = unit.si_per_unit;
  vector.order = order;
  vector.value = scale * fit.value;
  vector.covariance = scale * scale * fit.covariance;
  vector.slope = slope_of(fit, scale, vector.value, unit.motion, spin, hunting_share);
  std::optional<Phasor> coupling_step;
  if (sensor.ac_coupling_Hz) coupling_step = undo_coupling(vector, sensor, spin);
  const Phasor j(0.0, 1.0);
  const double edge_rad =
      order * spin.speed_rad_s * spin.tach.timing_uncertainty_s / std::sqrt(static_cast<double>(spin.revolutions));
  const Phasor hunting = vector.slope.per_rad_s * spin.speed_rad_s * spin.u_mean_speed_fraction;
  const double scatter_rad_s = spin.speed_rad_s * spin.speed_scatter_fraction;
  const double bend = 0.5 * largest_curvature(vector.value, vector.slope.per_rad_s) * scatter_rad_s * scatter_rad_s;
  const Eigen::Matrix2d curved = 0.5 * bend * bend * Eigen::Matrix2d::Identity();
  vector.budget = {{"noise beside the order", 'A', vector.covariance, true},
                   {"tach timing (within the noise)", 'A', along(j * edge_rad * vector.value), false},
                   {vector.slope.measured ? "speed hunting, slope measured" : "speed hunting, slope modelled",
                    vector.slope.measured ? 'A' : 'B', along(hunting), false},
                   {"curved response to the hunting", 'B', curved, true}};
  vector.covariance += curved;
  if (coupling_step) vector.budget.push_back({"AC coupling of the sensor", 'B', along(*coupling_step), false});
  if (sensor.mounting_uncertainty_rad > 0.0) {
    vector.budget.push_back(
        {"direction of the sensor", 'B', along(j * sensor.mounting_uncertainty_rad * vector.value), false});
  }
  return vector;
}

}  // namespace counterspot
