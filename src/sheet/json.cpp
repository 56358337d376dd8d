#include "sheet/json.hpp"

#include "counterspot/log/log.hpp"
#include "counterspot/sheet/sheet.hpp"

namespace counterspot {

namespace {

Json places_of(const Sheet& sheet) {
  Json places = Json::array();
  for (const auto& [held, as_found, angle_rad] : sheet.places) {
    Json entry = {{"place", held.place.text()},
                  {"as_found_gmm", as_found ? Json(in_g_mm(as_found->unbalance_kg_m)) : Json()},
                  {"u_as_found_gmm", as_found && as_found->u_kg_m > 0.0 ? Json(in_g_mm(as_found->u_kg_m)) : Json()},
                  {"as_found_angle_deg", as_found ? scaled_or_null(as_found->angle_rad, degrees(1.0)) : Json()},
                  {"residual_angle_deg", scaled_or_null(angle_rad, degrees(1.0))}};
    entry.update(held_json({held}, held.u_residual_kg_m > 0.0).front());
    places.push_back(std::move(entry));
  }
  return places;
}

Json pieces_of(const std::vector<SheetPiece>& list, const Shaft& shaft) {
  Json pieces = Json::array();
  for (const SheetPiece& piece : list) {
    Json entry = json_of(piece.weight, shaft);
    entry.update(json_of(piece.spot));
    pieces.push_back(std::move(entry));
  }
  return pieces;
}

Json qualification_json(const std::optional<SheetQualification>& qualification) {
  if (!qualification) return nullptr;
  return {{"date", utc_text(qualification->at_unix_s)},
          {"reference_shaft", qualification->reference_shaft},
          {"umar_gmm", {in_g_mm(qualification->umar_kg_m[0]), in_g_mm(qualification->umar_kg_m[1])}}};
}

Json notes_of(const Sheet& sheet) {
  Json notes = Json::array();
  for (const SheetNote& note : sheet.notes) notes.push_back(note.said);
  return notes;
}

}  // namespace

Json spins_json(const std::vector<SheetSpin>& list) {
  Json spins = Json::array();
  for (const SheetSpin& spin : list) {
    spins.push_back({{"label", spin.label},
                     {"speed_rpm", rpm_or_null(spin.speed_rad_s)},
                     {"recording", text_or_null(spin.file)},
                     {"sha256", text_or_null(spin.sha256)}});
  }
  return spins;
}

Json signatures_json(const std::vector<Event>& signatures) {
  Json list = Json::array();
  for (const Event& event : signatures) {
    const auto& made = std::get<Signed>(event.what);
    list.push_back({{"entry", event.number},
                    {"at", utc_text(event.at_unix_s)},
                    {"signed_by", made.by},
                    {"public_key", made.public_key},
                    {"signature", made.signature}});
  }
  return list;
}

Json document_of(const Verified& verified) {
  return {{"job", verified.job},
          {"entries", verified.entries},
          {"seal", verified.seal},
          {"entry_of_code", or_null(verified.entry_of_code)},
          {"signatures", signatures_json(verified.signatures)},
          {"sheet_form", or_null(verified.sheet_form)},
          {"not_compared", verified.not_compared},
          {"faults", verified.faults}};
}

std::string sheet_json(const Sheet& sheet) {
  return one_line(
      {{"form", sheet_form},
       {"job", sheet.job},
       {"shaft", sheet.shaft.id},
       {"order", json_of(sheet.order)},
       {"rig", sheet.rig.name},
       {"rotation", rotation_name(sheet.rig.rotation)},
       {"qualification", qualification_json(sheet.qualification)},
       {"program", sheet.program},
       {"opened", utc_text(sheet.opened_unix_s)},
       {"closed", time_or_null(sheet.closed_unix_s)},
       {"balancing_speed_rpm", rpm_or_null(sheet.balancing_speed_rad_s)},
       {"service_speed_rpm", rpm_or_null(sheet.shaft.service_speed_rad_s)},
       {"mass_kg", or_null(sheet.shaft.mass_kg)},
       {"grade", text_or_null(sheet.limits.grade)},
       {"permissible_total_gmm", gmm_or_null(sheet.limits.total_kg_m)},
       {"viewing_end", sheet.rig.viewing_end},
       {"verdict", sheet.verdict ? Json(verdict_name(*sheet.verdict)) : Json(nullptr)},
       {"held_back", json_of(sheet.held_back)},
       {"used_earlier_shafts", sheet.used_prior},
       {"corrected_from_what_rig_taught", sheet.rig_taught_by > 0},
       {"shafts_that_taught_rig", sheet.rig_taught_by},
       {"of_them_brought_in", sheet.brought_in},
       {"places", places_of(sheet)},
       {"pieces", pieces_of(sheet.pieces, sheet.shaft)},
       {"trial_weights", pieces_of(sheet.trials, sheet.shaft)},
       {"trial_weights_on", sheet.trials_on},
       {"to_fit_bare", pieces_of(sheet.to_fit_bare, sheet.shaft)},
       {"to_fit", pieces_of(sheet.to_fit, sheet.shaft)},
       {"spins", spins_json(sheet.spins)},
       {"taken_back", sheet.taken_back},
       {"notes", notes_of(sheet)},
       {"entries", sheet.entries},
       {"seal", text_or_null(sheet.seal)},
       {"signatures", signatures_json(sheet.signatures)},
       {"link", sheet.link ? Json{{"number", sheet.link->number}, {"sha256", sheet.link->sha256}} : Json()}});
}

}  // namespace counterspot
