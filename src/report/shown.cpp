#include "report/shown.hpp"

#include <cmath>

namespace counterspot {

Shown shown_as(const std::string& name) {
  if (name.empty()) return {};
  if (name == "acceleration") return {Motion::acceleration, "peak", 1.0};
  if (name == "velocity") return {Motion::velocity, "peak", 1.0};
  if (name == "velocity-rms") return {Motion::velocity, "rms", std::sqrt(0.5)};
  if (name == "displacement") return {Motion::displacement, "peak", 1.0};
  return {Motion::displacement, "peak-to-peak", 2.0};
}

ShownOrder shown(const OrderVector& vector, const SensorTrack& sensor, const Shown& how, double speed_rad_s) {
  Motion motion = how.motion.value_or(sensor.motion);
  OrderVector view = view_as(vector, sensor.motion, motion, speed_rad_s);
  double scale = how.per_peak / si_per_display_unit(motion);
  return {view.order,
          view.amplitude() * scale,
          view.u_amplitude() * scale,
          view.phase_lag_deg(),
          view.u_phase_lag_deg(),
          scale,
          view};
}

Json json_of(const ShownOrder& order, bool u_known) {
  return {{"order", order_json(order.order)},
          {"amplitude", order.amplitude},
          {"phase_lag_deg", order.phase_lag_deg},
          {"u_amplitude", u_known ? Json(order.u_amplitude) : Json(nullptr)},
          {"u_phase_lag_deg", u_known ? Json(order.u_phase_lag_deg) : Json(nullptr)}};
}

ShownOrder shown(const AmplitudeTrack& track, std::size_t sensor, const Shown& how) {
  SensorTrack of_sensor;
  of_sensor.motion = track.motions[sensor];
  OrderVector vector;
  vector.order = 1.0;
  vector.value = track.amplitudes[sensor];
  vector.covariance = std::pow(track.u_amplitudes[sensor], 2) * Eigen::Matrix2d::Identity();
  return shown(vector, of_sensor, how, track.speed_rad_s);
}

ShownBudgetItem shown(const BudgetItem& item, const ShownOrder& order) {
  const OrderVector alone{order.order, order.view.value, item.covariance};
  return {alone.u_amplitude() * order.scale, alone.u_phase_lag_deg()};
}

Phasor per_percent(const OrderVector& view, double speed_rad_s) {
  return view.amplitude() > 0.0 ? 0.01 * speed_rad_s * view.slope.per_rad_s / view.value : Phasor();
}

}  // namespace counterspot
