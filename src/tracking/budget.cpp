#include "tracking/budget.hpp"

#include <cmath>

namespace counterspot {
namespace {

Eigen::Matrix2d along(const Phasor& step) {
  const Eigen::Vector2d v(step.real(), step.imag());
  return v * v.transpose();
}

}  // namespace

OrderVector stated_vector(int order, const JointFit& fit, double scale, const Sensor& sensor, const Track& spin) {
  OrderVector vector;
  vector.order = order;
  vector.value = scale * fit.value;
  vector.covariance = scale * scale * fit.covariance;
  const Phasor j(0.0, 1.0);
  if (sensor.ac_coupling_Hz) {
    const double ratio = *sensor.ac_coupling_Hz * turn_rad / (order * spin.speed_rad_s);
    const Phasor undo = 1.0 + j * ratio;
    const Eigen::Matrix2d turn{{undo.real(), -undo.imag()}, {undo.imag(), undo.real()}};
    const Phasor step = j * ratio * sensor.ac_coupling_uncertainty * vector.value;
    vector.value *= undo;
    vector.covariance = turn * vector.covariance * turn.transpose();
    vector.budget.push_back({"AC coupling of the sensor", 'B', along(step), false});
  }
  vector.budget.insert(vector.budget.begin(), {"noise beside the order", 'A', vector.covariance, true});
  const double edge_rad =
      order * spin.speed_rad_s * spin.tach.timing_uncertainty_s / std::sqrt(static_cast<double>(spin.revolutions));
  vector.budget.insert(vector.budget.begin() + 1,
                       {"tach timing (within the noise)", 'A', along(j * edge_rad * vector.value), false});
  if (sensor.mounting_uncertainty_rad > 0.0) {
    vector.budget.push_back(
        {"direction of the sensor", 'B', along(j * sensor.mounting_uncertainty_rad * vector.value), false});
  }
  return vector;
}

}  // namespace counterspot
