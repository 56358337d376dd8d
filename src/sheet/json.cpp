#include "guide/json.hpp"
#include "counterspot/log.hpp"
#include "counterspot/sheet.hpp"

namespace counterspot {

namespace {

Json or_null(const std::optional<double>& value, double factor) {
  return value ? Json(*value * factor) : Json(nullptr);
}

Json rpm_or_null(const std::optional<double>& speed_rad_s) {
  return speed_rad_s ? Json(rpm(*speed_rad_s)) : Json(nullptr);
}

Json places_of(const Sheet& sheet) {
  Json places = Json::array();
  for (const SheetPlace& place : sheet.places) {
    const bool known = place.u_residual_kg_m > 0.0;
    places.push_back({{"place", place.support ? "support " + place.name : place.name},
                      {"as_found_gmm", or_null(place.as_found_kg_m, 1.0 / kg_m_per_g_mm)},
                      {"residual_gmm", in_g_mm(place.residual_kg_m)},
                      {"u_residual_gmm", known ? Json(in_g_mm(place.u_residual_kg_m)) : Json(nullptr)},
                      {"limit_gmm", in_g_mm(place.limit_kg_m)},
                      {"verdict", verdict_name(place.verdict)}});
  }
  return places;
}

Json pieces_of(const std::vector<SheetPiece>& list) {
  Json pieces = Json::array();
  for (const SheetPiece& piece : list) {
    const auto& arc = piece.spot.arc;
    pieces.push_back({{"plane", piece.plane},
                      {"mass_g", piece.weight.mass_kg * 1e3},
                      {"radius_mm", piece.weight.radius_m * 1e3},
                      {"angle_deg", degrees(piece.spot.angle_rad)},
                      {"clock", piece.spot.clock.text()},
                      {"arc_mm", arc ? Json(arc->length_m * 1e3) : Json(nullptr)},
                      {"arc_direction", arc ? Json(arc_direction_name(arc->direction)) : Json(nullptr)}});
  }
  return pieces;
}

Json spins_of(const Sheet& sheet) {
  Json spins = Json::array();
  for (const SheetSpin& spin : sheet.spins) {
    spins.push_back({{"label", spin.label},
                     {"speed_rpm", rpm_or_null(spin.speed_rad_s)},
                     {"recording", spin.file.empty() ? Json(nullptr) : Json(spin.file)},
                     {"sha256", spin.sha256.empty() ? Json(nullptr) : Json(spin.sha256)}});
  }
  return spins;
}

Json notes_of(const Sheet& sheet) {
  Json notes = Json::array();
  for (const SheetNote& note : sheet.notes) notes.push_back(note.said);
  return notes;
}

}  // namespace

std::string sheet_json(const Sheet& sheet) {
  const Json document = {{"job", sheet.job},
                         {"shaft", sheet.shaft.id},
                         {"rig", sheet.rig.name},
                         {"program", sheet.program},
                         {"opened", utc_text(sheet.opened_unix_s)},
                         {"closed", sheet.closed_unix_s ? Json(utc_text(*sheet.closed_unix_s)) : Json(nullptr)},
                         {"balancing_speed_rpm", rpm_or_null(sheet.balancing_speed_rad_s)},
                         {"service_speed_rpm", rpm_or_null(sheet.shaft.service_speed_rad_s)},
                         {"mass_kg", or_null(sheet.shaft.mass_kg, 1.0)},
                         {"grade", sheet.limits.grade.empty() ? Json(nullptr) : Json(sheet.limits.grade)},
                         {"viewing_end", sheet.rig.viewing_end},
                         {"verdict", sheet.verdict ? Json(verdict_name(*sheet.verdict)) : Json(nullptr)},
                         {"held_back", json_of(sheet.held_back)},
                         {"used_earlier_shafts", sheet.used_prior},
                         {"places", places_of(sheet)},
                         {"pieces", pieces_of(sheet.pieces)},
                         {"trial_weights_on", sheet.trials_on},
                         {"to_fit_bare", pieces_of(sheet.to_fit_bare)},
                         {"to_fit", pieces_of(sheet.to_fit)},
                         {"spins", spins_of(sheet)},
                         {"taken_back", sheet.taken_back},
                         {"notes", notes_of(sheet)}};
  return document.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace counterspot
