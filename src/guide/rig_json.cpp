#include <nlohmann/json.hpp>

#include "counterspot/rig_guide.hpp"

namespace counterspot {

namespace {

using RigStepJson = nlohmann::ordered_json;

RigStepJson masses_of(const std::vector<FittedWeight>& pieces, const Shaft& shaft) {
  RigStepJson list = RigStepJson::array();
  for (const FittedWeight& piece : pieces) {
    list.push_back({{"plane", shaft.planes[static_cast<std::size_t>(piece.plane)].name},
                    {"mass_g", piece.mass_kg * 1e3},
                    {"radius_mm", piece.radius_m * 1e3},
                    {"angle_deg", degrees(wrap_positive(piece.angle_rad))}});
  }
  return list;
}

RigStepJson findings_of(const std::vector<RigFinding>& findings) {
  RigStepJson list = RigStepJson::array();
  for (const RigFinding& finding : findings) {
    const bool judged = finding.verdict != RigVerdict::not_judged;
    list.push_back({{"place", rig_place_name(finding.place)},
                    {"verdict", rig_verdict_name(finding.verdict)},
                    {"measured", judged ? RigStepJson(finding.measured) : RigStepJson(nullptr)},
                    {"allowed", judged ? RigStepJson(finding.allowed) : RigStepJson(nullptr)},
                    {"words", finding.words}});
  }
  return list;
}

RigStepJson changes_of(const std::array<Phasor, 2>& change, const Rig& rig) {
  RigStepJson list = RigStepJson::array();
  for (std::size_t s : {0U, 1U}) {
    list.push_back({{"sensor", rig.sensors[s].name},
                    {"size_ratio", std::abs(change[s])},
                    {"turned_deg", degrees(std::arg(change[s]))}});
  }
  return list;
}

struct ResultJson {
  const Rig& rig;

  RigStepJson operator()(const std::monostate& /*none*/) const { return nullptr; }
  RigStepJson operator()(const Qualification& result) const {
    return {{"passed", result.passed},
            {"findings", findings_of(result.findings)},
            {"umar_gmm", {in_g_mm(result.umar_kg_m[0]), in_g_mm(result.umar_kg_m[1])}},
            {"reduction_percent", 100.0 * result.reduction},
            {"remount_gmm", in_g_mm(result.remount_kg_m)}};
  }
  RigStepJson operator()(const RigCheck& check) const {
    return {{"within", check.within},
            {"findings", findings_of(check.findings)},
            {"sensors", changes_of(check.change, rig)},
            {"moved_gmm", {in_g_mm(std::abs(check.moved_kg_m[0])), in_g_mm(std::abs(check.moved_kg_m[1]))}}};
  }
  RigStepJson operator()(const Recalibration& found) const {
    return {{"sound", found.sound},
            {"sensors", changes_of(found.change, rig)},
            {"cross_talk_percent", 100.0 * found.cross_talk},
            {"sensitivity_V_per_si", found.volts_per_si},
            {"words", found.words}};
  }
};

}  // namespace

std::string rig_step_json(const RigWork& work) {
  const RigWorkState state = state_of(work);
  const RigStep step = next_step(work);
  const Rig rig = work.rig();
  const RigResult result = state.closing ? std::get<RigClosed>(state.closing->what).result : RigResult();
  const RigStepJson document = {
      {"rig", rig.name},
      {"task", rig_task_name(work.task)},
      {"reference_shaft", work.shaft().id},
      {"open", state.open},
      {"entries", work.events.size()},
      {"step", step.number},
      {"steps", step.of},
      {"place", step.number > 0 ? RigStepJson(rig_place_name(step.place)) : RigStepJson(nullptr)},
      {"words", step.words},
      {"details", step.details},
      {"test_masses", masses_of(step.fitted, work.shaft())},
      {"turned_deg", degrees(step.turned_rad)},
      {"speed_rpm", step.speed_rad_s ? RigStepJson(rpm(*step.speed_rad_s)) : RigStepJson(nullptr)},
      {"result", std::visit(ResultJson{rig}, result)}};
  return document.dump();
}

}  // namespace counterspot
