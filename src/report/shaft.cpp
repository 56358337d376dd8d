#include "report/documents.hpp"

namespace counterspot {

const char* standing_name(SpeedStanding standing) {
  switch (standing) {
    case SpeedStanding::well_below: return "well below";
    case SpeedStanding::near: return "near";
    case SpeedStanding::above: return "above";
  }
  return "";
}

namespace {

Json standing_or_null(const std::optional<SpeedStanding>& standing) {
  return standing ? Json(standing_name(*standing)) : Json(nullptr);
}

Json beam_modes_of(const Assessment& a) {
  Json modes = Json::array();
  for (const BeamMode& mode : a.beam.modes)
    modes.push_back(
        {{"speed_rpm", rpm(mode.speed_rad_s)}, {"discretisation_percent", 100.0 * mode.discretisation_fraction}});
  return modes;
}

Json straightness_of(const Assessment& a) {
  if (!a.straightness) return nullptr;
  Json stations = Json::array();
  for (const StationFit& s : a.straightness->stations) {
    stations.push_back({{"position_mm", s.position_m * 1e3},
                        {"bow_mm", std::abs(s.bow_m) * 1e3},
                        {"bow_angle_deg", direction_deg(s.bow_m)},
                        {"u_bow_mm", scaled_or_null(s.u_bow_m, 1e3)},
                        {"out_of_round_mm", std::abs(s.out_of_round_m) * 1e3},
                        {"indicator_total_mm", s.indicator_total_m * 1e3}});
  }
  Json press = nullptr;
  if (const auto& s = a.straightness->straighten) {
    press = {
        {"position_mm", s->position_m * 1e3}, {"high_side_deg", degrees(s->high_side_rad)}, {"bow_mm", s->bow_m * 1e3}};
  }
  return {{"within", a.straightness->within},
          {"limit_mm", a.indicator_limit_m * 1e3},
          {"worst_indicator_total_mm", a.straightness->worst_indicator_total_m * 1e3},
          {"stations", stations},
          {"straighten", press}};
}

Json bow_of(const Assessment& a) {
  Json list = Json::array();
  for (const BowAtPlane& bow : a.bow) {
    list.push_back({{"name", bow.plane},
                    {"unbalance_gmm", in_g_mm(std::abs(bow.unbalance_kg_m))},
                    {"angle_deg", direction_deg(bow.unbalance_kg_m)},
                    {"limit_gmm", scaled_or_null(bow.limit_kg_m, 1.0 / kg_m_per_g_mm)}});
  }
  return list;
}

Json trial_weights_of(const Assessment& a, const Shaft& shaft) {
  Json list = Json::array();
  for (const PlannedTrial& trial : a.trials) {
    list.push_back({{"name", shaft.planes[static_cast<std::size_t>(trial.piece.plane)].name},
                    {"mass_g", trial.weight.mass_kg * 1e3},
                    {"radius_mm", trial.piece.radius_m * 1e3},
                    {"pull_n", trial.weight.pull_N},
                    {"pull_lbf", trial.weight.pull_lbf},
                    {"pull_over_load", or_null(trial.weight.pull_over_load)},
                    {"rule", trial_rule_name(trial.weight.rule)}});
    if (trial.kind.empty()) continue;
    list.back()["kind"] = trial.kind;
    list.back()["angle_deg"] = degrees(trial.piece.angle_rad);
  }
  return list;
}

Json joints_of(const Assessment& a) {
  if (!a.joints) return nullptr;
  return {{"equivalent_angle_deg", degrees(a.joints->equivalent_angle_rad)},
          {"speed_ripple_percent", 100.0 * a.joints->speed_ripple_fraction},
          {"shaft_ripple_percent", 100.0 * a.joints->shaft_ripple_fraction},
          {"yokes_in_line", a.joints->yokes_in_line}};
}

}  // namespace

Json document_of(const Assessment& a, const Shaft& shaft) {
  return {{"shaft", shaft.id},
          {"tube_kg", scaled_or_null(a.tube_kg, 1.0)},
          {"model_kg", a.beam.mass_kg},
          {"model_center_of_mass_mm", a.beam.center_of_mass_m * 1e3},
          {"critical_speeds", beam_modes_of(a)},
          {"first_critical_rpm", rpm_or_null(a.critical_rad_s)},
          {"safe_speed_rpm", rpm_or_null(a.safe_speed_rad_s)},
          {"service_speed_rpm", rpm_or_null(a.service_speed_rad_s)},
          {"service_standing", standing_or_null(a.service_standing)},
          {"balancing_speed_rpm", rpm_or_null(a.balancing_speed_rad_s)},
          {"balancing_standing", standing_or_null(a.balancing_standing)},
          {"straightness", straightness_of(a)},
          {"bow", bow_of(a)},
          {"joints", joints_of(a)},
          {"trial_weights", trial_weights_of(a, shaft)},
          {"fit_to_spin", a.fit_to_spin()}};
}

}  // namespace counterspot
