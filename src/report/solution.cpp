#include <fmt/format.h>

#include "report/correction.hpp"
#include "report/documents.hpp"

namespace counterspot {

Json correction_json(const FitInstruction& fit) {
  Json document = {{"action", "add"}, {"mass_g", fit.mass_kg * 1e3}, {"radius_mm", fit.radius_m * 1e3}};
  document.update(json_of(Spot{fit.angle_rad, fit.clock, fit.arc}));
  return document;
}

namespace {

Json known(bool is_known, double value) {
  return is_known ? Json(value) : Json(nullptr);
}

Json json_of(const Eigen::Matrix2d& covariance_kg_m) {
  Eigen::Matrix2d c = covariance_kg_m / (kg_m_per_g_mm * kg_m_per_g_mm);
  return {{c(0, 0), c(0, 1)}, {c(1, 0), c(1, 1)}};
}

Json planes_of(const Solution& solution) {
  const bool is_known = solution.influence.uncertainty_known;
  Json planes = Json::array();
  for (const PlaneSolution& plane : solution.planes) {
    planes.push_back({{"name", plane.name},
                      {"limit_gmm", gmm_or_null(plane.limit_kg_m)},
                      {"residual_gmm", in_g_mm(std::abs(plane.residual_kg_m))},
                      {"residual_angle_deg", direction_deg(plane.residual_kg_m)},
                      {"u_residual_gmm", known(is_known, in_g_mm(plane.u_residual_kg_m))},
                      {"u_residual_vector", is_known ? json_of(plane.residual_covariance) : Json(nullptr)},
                      {"correction", correction_json(plane.correction)},
                      {"predicted_residual_gmm", in_g_mm(plane.predicted_residual_kg_m)},
                      {"correction_bare", correction_json(plane.correction_bare)},
                      {"predicted_bare_gmm", in_g_mm(plane.predicted_bare_kg_m)}});
    const std::string& left_out = solution.influence.planes[planes.size() - 1].left_out;
    planes.back()["left_out"] = text_or_null(left_out);
  }
  return planes;
}

Json sensor_json(const std::string& name, Motion motion, Json orders) {
  return {{"name", name}, {"unit", display_unit(motion)}, {"amplitude_kind", "peak"}, {"orders", std::move(orders)}};
}

Json sensors_of(const Track& track) {
  Json sensors = Json::array();
  for (const SensorTrack& sensor : track.sensors) {
    Json orders = Json::array();
    for (const OrderVector& vector : sensor.orders)
      orders.push_back(json_of(shown(vector, sensor, {}, track.speed_rad_s)));
    sensors.push_back(sensor_json(sensor.name, sensor.motion, std::move(orders)));
  }
  return sensors;
}

Json sensors_of(const SpinEntry& typed, const Rig& rig) {
  Json sensors = Json::array();
  for (std::size_t s = 0; s < typed.typed.size(); ++s) {
    const TypedVector& vector = typed.typed[s];
    const double u = vector.standard_uncertainty.value_or(0.0);
    const OrderVector order{1.0, vector.value, u * u * Eigen::Matrix2d::Identity()};
    SensorTrack sensor;
    sensor.name = rig.sensors[s].name;
    sensor.motion = vector.motion;
    const Json shown_order =
        json_of(shown(order, sensor, {}, typed.speed_rad_s.value_or(0.0)), vector.standard_uncertainty.has_value());
    sensors.push_back(sensor_json(sensor.name, sensor.motion, Json::array({shown_order})));
  }
  return sensors;
}

/// What each spin read, as `track` says it: at its own speed, and before anything was taken together.
Json spins_json(const Solution& solution, const SpinSet& set) {
  Json spins = Json::array();
  auto track = solution.tracks.begin();
  for (const SpinEntry& spin : set.spins) {
    const bool typed = spin.recording.empty();
    spins.push_back({{"label", spin.label},
                     {"recording", text_or_null(spin.recording.string())},
                     {"speed_rpm", typed ? rpm_or_null(spin.speed_rad_s) : Json(rpm(track->speed_rad_s))},
                     {"sensors", typed ? sensors_of(spin, set.rig) : sensors_of(*track)}});
    if (!typed) ++track;
  }
  return spins;
}

/// What every sensor reads at every speed, now and after the correction.
Json speeds_of(const Solution& solution, const SpinSet& set) {
  Json speeds = Json::array();
  for (const SpeedShare& share : solution.influence.speeds) {
    Json sensors = Json::array();
    for (std::size_t s = 0; s < share.present.size(); ++s) {
      const double unit = si_per_display_unit(solution.motions[s]);
      sensors.push_back({{"name", set.rig.sensors[s].name},
                         {"unit", display_unit(solution.motions[s])},
                         {"amplitude", std::abs(share.present[s]) / unit},
                         {"expected_amplitude", std::abs(share.expected[s]) / unit}});
    }
    speeds.push_back({{"speed_rpm", rpm_or_null(share.speed_rad_s)}, {"sensors", sensors}});
  }
  return speeds;
}

Json modes_of(const Solution& solution) {
  Json modes = Json::array();
  for (const ModalPart& mode : solution.modes) {
    modes.push_back({{"critical_rpm", rpm(mode.critical_rad_s)},
                     {"residual_gmm", in_g_mm(std::abs(mode.unbalance_kg_m))},
                     {"residual_angle_deg", direction_deg(mode.unbalance_kg_m)}});
  }
  return modes;
}

Json adapters_json(const Solution& solution, const SpinSet& set) {
  const auto& adapters = solution.influence.adapters;
  if (!adapters) return nullptr;
  Json planes = Json::array();
  for (std::size_t p = 0; p < adapters->unbalance_kg_m.size(); ++p) {
    const Phasor& share = adapters->unbalance_kg_m[p];
    const auto at = static_cast<Eigen::Index>(2 * p);
    planes.push_back(
        {{"name", set.shaft.planes[p].name},
         {"unbalance_gmm", in_g_mm(std::abs(share))},
         {"angle_deg", direction_deg(share)},
         {"u_unbalance_gmm", known(solution.influence.uncertainty_known,
                                   in_g_mm(u_of_magnitude(share, adapters->covariance.block<2, 2>(at, at))))}});
  }
  return planes;
}

Json coefficients_of(const Solution& solution, const SpinSet& set) {
  Json coefficients = Json::array();
  std::size_t planes = set.shaft.planes.size();
  for (std::size_t i = 0; i < solution.influence.coefficients.size(); ++i) {
    const CoefficientEstimate& estimate = solution.influence.coefficients[i];
    Motion motion = solution.motions[i / planes];
    double scale = kg_m_per_g_mm / si_per_display_unit(motion);
    double magnitude = std::abs(estimate.value);
    coefficients.push_back({{"sensor", set.rig.sensors[i / planes].name},
                            {"plane", set.shaft.planes[i % planes].name},
                            {"magnitude", magnitude * scale},
                            {"unit", fmt::format("({})/(g·mm)", display_unit(motion))},
                            {"phase_lag_deg", direction_deg(estimate.value)},
                            {"u_relative", known(solution.influence.uncertainty_known,
                                                 u_of_magnitude(estimate.value, estimate.covariance) / magnitude)}});
  }
  return coefficients;
}

Json repeats_of(const Solution& solution) {
  Json repeats = Json::array();
  for (std::size_t s = 0; s < solution.repeats.size(); ++s) {
    const RepeatScatter& repeat = solution.repeats[s];
    const double unit = si_per_display_unit(solution.motions[s]);
    repeats.push_back({{"sensor", repeat.sensor},
                       {"unit", display_unit(solution.motions[s])},
                       {"spins", repeat.spins},
                       {"degrees_of_freedom", repeat.degrees_of_freedom},
                       {"noise", repeat.noise / unit},
                       {"scatter", repeat.scatter / unit},
                       {"u_added", repeat.added / unit}});
  }
  return repeats;
}

Json budget_json(const Solution& solution, const SpinSet& set) {
  if (!solution.influence.uncertainty_known) return nullptr;
  const BudgetTable table = budget_table(solution, set.shaft);
  Json sources = Json::array();
  for (const BudgetRow& row : table.rows) {
    Json places = Json::array();
    for (std::size_t i = 0; i < table.places.size(); ++i)
      places.push_back({{"place", table.places[i]}, {"u_gmm", in_g_mm(row.u_kg_m[i])}});
    sources.push_back({{"source", error_source_words(row.source)}, {"places", places}});
  }
  return sources;
}

}  // namespace

Json document_of(const Solution& solution, const SpinSet& set) {
  return {{"shaft", set.shaft.id},
          {"order", json_of(set.order)},
          {"rig", set.rig.name},
          {"speed_rpm", rpm_or_null(solution.speed_rad_s)},
          {"verdict", verdict_name(solution.judgement.verdict)},
          {"held_back", json_of(reasons_of(solution.judgement.held_back))},
          {"planes", planes_of(solution)},
          {"trial_weights_on", json_of(solution.trial_weights, set.shaft)},
          {"held", held_json(solution.judgement.held, solution.influence.uncertainty_known)},
          {"coefficients", coefficients_of(solution, set)},
          {"repeats", repeats_of(solution)},
          {"condition_number", solution.influence.condition_number},
          {"static_gmm", in_g_mm(std::abs(solution.rigid.static_kg_m))},
          {"couple_gmm2", in_g_mm(std::abs(solution.rigid.couple_kg_m2)) * 1e3},
          {"spins", spins_json(solution, set)},
          {"speeds", speeds_of(solution, set)},
          {"modes", modes_of(solution)},
          {"adapters", adapters_json(solution, set)},
          {"budget", budget_json(solution, set)},
          {"warnings", json_of(solution.warnings)}};
}

}  // namespace counterspot
