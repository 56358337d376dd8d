#include "report/json.hpp"

#include <cassert>
#include <cmath>

#include "counterspot/log/log.hpp"

namespace counterspot {

Json scaled_or_null(const std::optional<double>& value, double factor) {
  return value ? Json(*value * factor) : Json(nullptr);
}

Json gmm_or_null(const std::optional<double>& unbalance_kg_m) {
  return unbalance_kg_m ? Json(in_g_mm(*unbalance_kg_m)) : Json(nullptr);
}

Json rpm_or_null(const std::optional<double>& speed_rad_s) {
  return speed_rad_s ? Json(rpm(*speed_rad_s)) : Json(nullptr);
}

Json time_or_null(const std::optional<std::int64_t>& unix_s) {
  return unix_s ? Json(utc_text(*unix_s)) : Json(nullptr);
}

Json text_or_null(const std::string& text) {
  return text.empty() ? Json(nullptr) : Json(text);
}

Json json_of(const Warnings& warnings) {
  Json list = Json::array();
  for (const Warning& warning : warnings) {
    list.push_back({{"code", warning_code(warning.code)},
                    {"severity", severity_name(severity_of(warning.code))},
                    {"sensor", or_null(warning.sensor)},
                    {"message", warning.message},
                    {"remedy", warning.what_to_do()},
                    {"spins", warning.spins},
                    {"sensors", sensors_named(warning)}});
  }
  return list;
}

Json json_of(const std::vector<SaidReason>& held_back) {
  Json list = Json::array();
  for (const SaidReason& reason : held_back) {
    list.push_back({{"code", reason.code},
                    {"message", reason.message},
                    {"remedy", reason.remedy},
                    {"spins", reason.spins},
                    {"sensors", reason.sensors}});
  }
  return list;
}

Json json_of(const Error& error) {
  return {{"code", error.code()}, {"message", error.what()}, {"remedy", error.remedy()}};
}

Json json_of(const Spot& spot) {
  return {{"angle_deg", degrees(spot.angle_rad)},
          {"clock", spot.clock.text()},
          {"arc_mm", spot.arc ? Json(spot.arc->length_m * 1e3) : Json(nullptr)},
          {"arc_direction", spot.arc ? Json(arc_direction_name(spot.arc->direction)) : Json(nullptr)}};
}

Json json_of(const FittedWeight& weight, const Shaft& shaft) {
  assert(weight.plane >= 0 && static_cast<std::size_t>(weight.plane) < shaft.planes.size());
  return {{"plane", shaft.planes[static_cast<std::size_t>(weight.plane)].name},
          {"mass_g", weight.mass_kg * 1e3},
          {"radius_mm", weight.radius_m * 1e3},
          {"angle_deg", degrees(wrap_positive(weight.angle_rad))}};
}

Json json_of(const std::vector<FittedWeight>& weights, const Shaft& shaft) {
  Json list = Json::array();
  for (const FittedWeight& weight : weights) list.push_back(json_of(weight, shaft));
  return list;
}

Json held_json(const std::vector<Held>& held, bool u_known) {
  Json places = Json::array();
  for (const Held& place : held) {
    places.push_back({{"place", place.place.text()},
                      {"residual_gmm", in_g_mm(place.residual_kg_m)},
                      {"u_residual_gmm", u_known ? Json(in_g_mm(place.u_residual_kg_m)) : Json(nullptr)},
                      {"limit_gmm", in_g_mm(place.limit_kg_m)},
                      {"verdict", verdict_name(place.verdict)}});
  }
  return places;
}

Json json_of(const WorkOrder& order) {
  Json json = Json::object();
  for (const auto& [key, value] : work_order_fields()) json[key] = text_or_null(order.*value);
  return json;
}

Json json_of(const std::vector<RigFinding>& findings) {
  Json list = Json::array();
  for (const RigFinding& finding : findings) {
    const bool judged = finding.verdict != RigVerdict::not_judged;
    list.push_back({{"place", rig_place_name(finding.place)},
                    {"verdict", rig_verdict_name(finding.verdict)},
                    {"measured", judged ? Json(finding.measured) : Json(nullptr)},
                    {"allowed", judged ? Json(finding.allowed) : Json(nullptr)},
                    {"words", finding.words}});
  }
  return list;
}

Json json_of(const Qualification& result) {
  return {{"passed", result.passed},
          {"findings", json_of(result.findings)},
          {"umar_gmm", {in_g_mm(result.umar_kg_m[0]), in_g_mm(result.umar_kg_m[1])}},
          {"reduction_percent", 100.0 * result.reduction},
          {"remount_gmm", in_g_mm(result.remount_kg_m)}};
}

Json order_json(double order) {
  return order == std::round(order) ? Json(std::llround(order)) : Json(order);
}

}  // namespace counterspot
