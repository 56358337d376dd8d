#include "report/documents.hpp"

namespace counterspot {

namespace {

Json budget_json(const ShownOrder& order) {
  Json budget = Json::array();
  for (const BudgetItem& item : order.view.budget) {
    const ShownBudgetItem u = shown(item, order);
    budget.push_back({{"source", item.source},
                      {"type", std::string(1, item.type)},
                      {"counted", item.counted},
                      {"u_amplitude", u.u_amplitude},
                      {"u_phase_lag_deg", u.u_phase_lag_deg}});
  }
  return budget;
}

Json slope_json(const ShownOrder& order, double speed_rad_s) {
  const Phasor change = per_percent(order.view, speed_rad_s);
  return {{"measured", order.view.slope.measured},
          {"amplitude_percent_per_percent", 100.0 * change.real()},
          {"phase_lag_deg_per_percent", degrees(change.imag())}};
}

}  // namespace

Json document_of(const Track& track, const Shown& how, bool budget) {
  Json sensors = Json::array();
  for (const SensorTrack& sensor : track.sensors) {
    Json orders = Json::array();
    for (const OrderVector& vector : sensor.orders) {
      ShownOrder order = shown(vector, sensor, how, track.speed_rad_s);
      const Eigen::Matrix2d covariance = order.view.covariance * order.scale * order.scale;
      orders.push_back(json_of(order));
      orders.back()["covariance"] = {{covariance(0, 0), covariance(0, 1)}, {covariance(1, 0), covariance(1, 1)}};
      if (budget) {
        orders.back()["budget"] = budget_json(order);
        orders.back()["speed_slope"] = slope_json(order, track.speed_rad_s);
      }
    }
    double own = si_per_display_unit(sensor.motion);
    Json lines = Json::array();
    Json other_orders = Json::array();
    for (const SteadyLine& line : sensor.lines) {
      if (line.steady == Steadiness::in_angle) {
        other_orders.push_back({{"order", line.order}, {"amplitude", line.amplitude / own}});
        continue;
      }
      lines.push_back({{"frequency_hz", line.frequency_Hz},
                       {"amplitude", line.amplitude / own},
                       {"order", line.order},
                       {"may_turn", line.steady == Steadiness::either}});
    }
    sensors.push_back({{"name", sensor.name},
                       {"unit", display_unit(how.motion.value_or(sensor.motion))},
                       {"amplitude_kind", how.kind},
                       {"orders", orders},
                       {"dc", sensor.dc / own},
                       {"residual_rms", sensor.residual_rms / own},
                       {"steady_lines", lines},
                       {"other_orders", other_orders},
                       {"level_change", sensor.level_change / own},
                       {"step", sensor.step / own},
                       {"knocks", sensor.knocks},
                       {"sensor_unit", display_unit(sensor.motion)}});
  }
  return {{"file", track.file},
          {"speed_rpm", rpm(track.speed_rad_s)},
          {"speed_drift_percent", 100.0 * track.speed_drift_fraction},
          {"speed_scatter_percent", 100.0 * track.speed_scatter_fraction},
          {"revolutions", track.revolutions},
          {"begin_s", track.begin_s},
          {"duration_s", track.duration_s},
          {"sensors", sensors},
          {"tach",
           {{"pulses", track.tach.pulses},
            {"lost", track.tach.lost},
            {"doubled", track.tach.doubled},
            {"timing_uncertainty_us", track.tach.timing_uncertainty_s * 1e6}}},
          {"warnings", json_of(track.warnings)}};
}

Json document_of(const AmplitudeTrack& track, const Rig& rig, const std::string& file, const Shown& how) {
  Json sensors = Json::array();
  for (std::size_t s = 0; s < track.amplitudes.size(); ++s) {
    const ShownOrder order = shown(track, s, how);
    sensors.push_back({{"name", rig.sensors[s].name},
                       {"unit", display_unit(how.motion.value_or(track.motions[s]))},
                       {"amplitude_kind", how.kind},
                       {"orders",
                        {{{"order", 1},
                          {"amplitude", order.amplitude},
                          {"phase_lag_deg", nullptr},
                          {"u_amplitude", order.u_amplitude},
                          {"u_phase_lag_deg", nullptr}}}},
                       {"change_percent", 100.0 * track.changes[s]}});
  }
  return {{"file", file},
          {"no_phase", true},
          {"speed_rpm", rpm(track.speed_rad_s)},
          {"duration_s", track.duration_s},
          {"sensors", sensors},
          {"warnings", json_of(track.warnings)}};
}

}  // namespace counterspot
