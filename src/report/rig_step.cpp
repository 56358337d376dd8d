#include "report/documents.hpp"
#include "report/rig_step_words.hpp"

namespace counterspot {

namespace {

Json changes_of(const std::array<Phasor, 2>& change, const Rig& rig) {
  Json list = Json::array();
  for (std::size_t s : {0U, 1U}) {
    list.push_back({{"sensor", rig.sensors[s].name},
                    {"size_ratio", std::abs(change[s])},
                    {"turned_deg", degrees(std::arg(change[s]))}});
  }
  return list;
}

/// null where it is not known.
Json sensitivities_of(const Recalibration& found, const Rig& rig) {
  Json list = Json::array();
  for (std::size_t s = 0; s < found.volts_per_si.size(); ++s) {
    const bool known = rig.sensors[s].sensitivity.motion != Motion::unscaled;
    list.push_back(known ? Json(found.volts_per_si[s]) : Json(nullptr));
  }
  return list;
}

struct ResultJson {
  const Rig& rig;

  Json operator()(const std::monostate& /*none*/) const { return nullptr; }
  Json operator()(const Qualification& result) const { return json_of(result); }
  Json operator()(const RigCheck& check) const {
    return {{"within", check.within},
            {"findings", json_of(check.findings)},
            {"sensors", changes_of(check.change, rig)},
            {"moved_gmm", {in_g_mm(std::abs(check.moved_kg_m[0])), in_g_mm(std::abs(check.moved_kg_m[1]))}}};
  }
  Json operator()(const Recalibration& found) const {
    return {{"sound", found.sound},
            {"sensors", changes_of(found.change, rig)},
            {"cross_talk_percent", 100.0 * found.cross_talk},
            {"sensitivity_V_per_si", sensitivities_of(found, rig)},
            {"words", found.words}};
  }
};

}  // namespace

Json document_of(const RigWork& work) {
  const RigStep step = next_step(work);
  const StepWords said = step_words(step, work);
  const Rig rig = work.rig();
  const RigResult result = step.closed ? step.closed->result : RigResult();
  return {{"rig", rig.name},
          {"task", rig_task_name(work.task)},
          {"reference_shaft", work.shaft().id},
          {"open", !step.closed},
          {"entries", work.events.size()},
          {"step", step.number},
          {"steps", step.of},
          {"place", step.number > 0 ? Json(rig_place_name(step.spin.place)) : Json(nullptr)},
          {"words", said.words},
          {"details", said.details},
          {"test_masses", json_of(step.spin.fitted, work.shaft())},
          {"turned_deg", degrees(step.spin.turned_rad)},
          {"speed_rpm", rpm_or_null(step.speed_rad_s)},
          {"result", std::visit(ResultJson{rig}, result)}};
}

Json document_of(const RigStanding& standing, const Rig& rig) {
  Json failed = Json::array();
  for (RigPlace place : standing.failed_places) failed.push_back(rig_place_name(place));
  return {{"rig", rig.name},
          {"qualified", time_or_null(standing.qualified_unix_s)},
          {"due", time_or_null(standing.due_unix_s)},
          {"overdue", standing.overdue},
          {"last_failed", standing.last_failed},
          {"failed_places", failed},
          {"checked", time_or_null(standing.checked_unix_s)},
          {"check_within", or_null(standing.check_within)},
          {"knocked", standing.taps ? time_or_null(standing.taps->at_unix_s) : Json(nullptr)},
          {"knocks_within", standing.taps ? Json(standing.taps->within) : Json(nullptr)}};
}

}  // namespace counterspot
