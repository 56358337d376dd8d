#include "console/course.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "console/addresses.hpp"
#include "counterspot/drawing/drawing_course.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/warning.hpp"
#include "report/job_text.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

/// What a spin left at the place where that is most, over its limit there, and the verdict that was said of it.
struct Left {
  OverLimit over_limit;
  std::optional<Verdict> verdict;
};

Left left_of(const Finding& finding) {
  const auto ratio = [](const Held& held) { return held.residual_kg_m / held.limit_kg_m; };
  const auto worst = std::max_element(finding.held.begin(), finding.held.end(),
                                      [&](const Held& a, const Held& b) { return ratio(a) < ratio(b); });
  return {{100.0 * ratio(*worst), 100.0 * coverage_factor * worst->u_residual_kg_m / worst->limit_kg_m},
          finding.verdict};
}

/// Of a spin that could not be judged when it was made: what all spins together say of it now.
std::optional<Left> left_now(const std::vector<VectorDiagram>& diagrams, std::size_t spin) {
  std::optional<Left> left;
  for (const VectorDiagram& diagram : diagrams) {
    if (!diagram.limit_kg_m || spin >= diagram.spins.size()) continue;
    const OverLimit here = over_limit(diagram.spins[spin], *diagram.limit_kg_m);
    if (!left || here.percent > left->over_limit.percent) left = Left{here, std::nullopt};
  }
  return left;
}

Json left_json(const std::optional<Left>& left, bool seen_now, const Viewer& viewer) {
  if (!left) return nullptr;
  const OverLimit& over = left->over_limit;
  return {
      {"percent", over.percent},
      {"expanded_percent", over.expanded_percent},
      {"words", viewer.texts("percent_of_limit", measured_text(over.percent, over.expanded_percent, viewer.words()))},
      {"seen_now", seen_now},
      {"verdict", left->verdict ? Json(verdict_name(*left->verdict)) : Json(nullptr)},
      {"verdict_words", left->verdict ? Json(verdict_text(*left->verdict, viewer.words())) : Json(nullptr)}};
}

Json weights_json(const std::vector<FittedWeight>& pieces, const Shaft& shaft, const Viewer& viewer) {
  Json list = Json::array();
  for (const FittedWeight& piece : pieces) list.push_back(text_of(piece, shaft, viewer.units, viewer.words()));
  return list;
}

/// How many of the warnings ask for something; one that this program does not know may.
std::ptrdiff_t asking_in(const Spun& spun) {
  return std::count_if(spun.warnings.begin(), spun.warnings.end(), [](const SaidWarning& said) {
    const auto code = warning_code_named(said.code);
    return !code || severity_of(*code) != Severity::note;
  });
}

Json spin_json(const Event& event, const Spun& spun, const Shaft& shaft, const Viewer& viewer) {
  Json vectors = Json::array();
  for (const SensorReading& reading : spun.readings)
    vectors.push_back(viewer.texts("sensor", reading.sensor) + ": " + text_of(reading, viewer.words()));
  return {
      {"number", event.number},
      {"label", spun.label},
      {"at", local_minute(event.at_unix_s)},
      {"speed", spun.speed_rad_s ? Json(viewer.speed(*spun.speed_rad_s) + " " + viewer.texts("rpm")) : Json(nullptr)},
      {"vectors", vectors},
      {"warnings", asking_in(spun)},
      {"lines", lines_of(event.what, shaft, viewer.units, viewer.words())}};
}

/// Why an entry does not count.
std::string reason_of(const Job& job, int number) {
  for (const Event& event : job.events)
    if (const auto* back = std::get_if<TakenBack>(&event.what); back != nullptr && back->number == number)
      return back->reason;
  return "";
}

Json picture_json(const Job& job, const Viewer& viewer) {
  return pictures_at(fmt::format("/course.svg?job={}&entries={}&", percent_encoded(job.name), job.events.size()),
                     viewer);
}

}  // namespace

const Event* undoable(const Job& job) {
  if (job.events.empty() || !state_of(job.events).open) return nullptr;
  const Event& last = job.events.back();
  const bool said = std::holds_alternative<Spun>(last.what) || std::holds_alternative<Fitted>(last.what);
  return said ? &last : nullptr;
}

Json course_words(const KnownJob& known, const Viewer& viewer) {
  const Job& job = known.job;
  const Shaft shaft = job.shaft();
  const JobState state = state_of(job.events);
  const auto& solution = known.analysis.solution;
  const auto diagrams = solution ? course_of(job.rig(), shaft, *solution) : std::vector<VectorDiagram>();
  const bool limited = std::any_of(diagrams.begin(), diagrams.end(),
                                   [](const VectorDiagram& each) { return each.limit_kg_m.has_value(); });
  Json spins = Json::array();
  std::size_t standing = 0;
  for (const Event& event : job.events) {
    const auto* spun = std::get_if<Spun>(&event.what);
    if (spun == nullptr) continue;
    const bool counts = !state.taken_back.contains(event.number);
    const bool judged = spun->finding && !spun->finding->held.empty();
    const auto left = judged   ? std::optional(left_of(*spun->finding))
                      : counts ? left_now(diagrams, standing)
                               : std::nullopt;
    Json spin = spin_json(event, *spun, shaft, viewer);
    spin["counts"] = counts;
    spin["reason"] = counts ? Json(nullptr) : Json(reason_of(job, event.number));
    spin["left"] = left_json(left, !judged, viewer);
    spin["on"] = counts ? weights_json(state.spins.at(standing).fitted, shaft, viewer) : Json(nullptr);
    spin["may_be_set_aside"] = state.open && counts;
    spin["may_be_spun_again"] = state.open && counts && state.final_spin() == event.number;
    spins.push_back(spin);
    standing += counts ? 1 : 0;
  }
  const Event* last = undoable(job);
  return {{"job", job.name},
          {"entries", job.events.size()},
          {"open", state.open},
          {"spins", spins},
          {"picture", limited && standing > 1 ? picture_json(job, viewer) : Json(nullptr)},
          {"undo", last == nullptr ? Json(nullptr)
                                   : Json{{"number", last->number},
                                          {"kind", std::string(kind_of(last->what))},
                                          {"words", heading_of(last->what, viewer.words())},
                                          {"lines", lines_of(last->what, shaft, viewer.units, viewer.words())}}}};
}

}  // namespace counterspot
