#include "guide/json.hpp"

#include "counterspot/guide.hpp"

namespace counterspot {

namespace {

Json json_of(const FittedWeight& piece, const Shaft& shaft) {
  return {{"plane", shaft.planes[static_cast<std::size_t>(piece.plane)].name},
          {"mass_g", piece.mass_kg * 1e3},
          {"radius_mm", piece.radius_m * 1e3},
          {"angle_deg", degrees(wrap_positive(piece.angle_rad))}};
}

Json json_of(const std::vector<FittedWeight>& pieces, const Shaft& shaft) {
  Json list = Json::array();
  for (const FittedWeight& piece : pieces) list.push_back(json_of(piece, shaft));
  return list;
}

Json percent_of(const std::optional<double>& ratio) {
  return ratio ? Json(100.0 * *ratio) : Json(nullptr);
}

Json json_of(const std::optional<Instead>& instead, const Shaft& shaft) {
  if (!instead) return nullptr;
  return {{"take_off", instead->take_off},
          {"pieces", json_of(instead->pieces, shaft)},
          {"expected_percent_of_limit", 100.0 * instead->expected_over_limit}};
}

const char* kind_name(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found: return "spin_as_found";
    case StepKind::spin: return "spin";
    case StepKind::spin_again: return "spin_again";
    case StepKind::fit_trial: return "fit_trial";
    case StepKind::fit_correction: return "fit_correction";
    case StepKind::say_fitted: return "say_fitted";
    case StepKind::close: return "close";
    case StepKind::close_not_within: return "close_not_within";
    case StepKind::mend: return "mend";
    case StepKind::nothing: return "nothing";
  }
  return "nothing";
}

}  // namespace

Json held_of(const Finding& finding) {
  Json places = Json::array();
  for (const Held& held : finding.held) {
    places.push_back({{"place", held.place},
                      {"residual_gmm", in_g_mm(held.residual_kg_m)},
                      {"u_residual_gmm", in_g_mm(held.u_residual_kg_m)},
                      {"limit_gmm", in_g_mm(held.limit_kg_m)},
                      {"verdict", verdict_name(held.verdict)}});
  }
  return places;
}

namespace {

std::vector<std::string> sensors_of(const Warning& warning) {
  if (!warning.sensors.empty() || !warning.sensor) return warning.sensors;
  return {*warning.sensor};
}

}  // namespace

Json json_of(const Warnings& warnings) {
  Json list = Json::array();
  for (const Warning& warning : warnings) {
    Json sensor = warning.sensor ? Json(*warning.sensor) : Json(nullptr);
    list.push_back({{"code", warning_code(warning.code)},
                    {"sensor", sensor},
                    {"message", warning.message},
                    {"spins", warning.spins},
                    {"sensors", sensors_of(warning)}});
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

std::string next_step_json(const KnownJob& known) {
  const NextStep step = known.next();
  const Shaft shaft = known.job.shaft();
  const JobState state = state_of(known.job.events);
  const auto finding = finding_of(known.analysis);
  const Json document = {{"job", known.job.name},
                         {"entries", known.job.events.size()},
                         {"open", state.open},
                         {"step", kind_name(step.kind)},
                         {"words", step.words},
                         {"details", step.details},
                         {"pieces", json_of(step.pieces, shaft)},
                         {"expected_percent_of_limit", percent_of(step.expected_over_limit)},
                         {"instead", json_of(step.instead, shaft)},
                         {"on_shaft", json_of(state.on_shaft, shaft)},
                         {"verdict", finding ? Json(verdict_name(finding->verdict)) : Json(nullptr)},
                         {"held_back", finding ? json_of(finding->held_back) : Json::array()},
                         {"held", finding ? held_of(*finding) : Json::array()},
                         {"earlier_shafts", known.prior ? known.prior->shafts : 0},
                         {"used_earlier_shafts", known.analysis.used_prior},
                         {"warnings", json_of(known.analysis.warnings)}};
  return document.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace counterspot
