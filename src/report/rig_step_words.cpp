#include "report/rig_step_words.hpp"

#include <fmt/format.h>

#include "counterspot/drawing/rig_words.hpp"
#include "counterspot/placement/placement.hpp"
#include "report/text.hpp"
#include "rig/rig_results.hpp"

namespace counterspot {

namespace {

std::string mass_line(const FittedWeight& piece, const Rig& rig, const Shaft& shaft, const Words& words) {
  const auto number = [&](double value, int decimals) { return number_text(value, decimals, words); };
  return say(words.rig_work().mass, shaft.planes[static_cast<std::size_t>(piece.plane)].name,
             number(piece.mass_kg * 1e3, 2), clock_position(piece.angle_rad, rig.rotation).text(), rig.viewing_end,
             number(degrees(piece.angle_rad), 0), number(piece.radius_m * 1e3, 1));
}

std::string mounting_line(Mounting mounting, double turned_rad, const Words& words) {
  const RigWords& texts = words.rig_work();
  switch (mounting) {
    case Mounting::mark_to_mark: return texts.mark_to_mark;
    case Mounting::left_alone: return texts.left_alone;
    case Mounting::again: break;
  }
  return say(texts.mount_turned, number_text(degrees(turned_rad), 0, words));
}

std::string words_of(const RigClosed& closed, RigTask task, const RigWords& texts) {
  if (const auto* result = std::get_if<Qualification>(&closed.result))
    return result->passed ? texts.qualified : texts.not_qualified;
  if (const auto* result = std::get_if<RigCheck>(&closed.result)) return result->within ? texts.within : texts.outside;
  if (const auto* result = std::get_if<Recalibration>(&closed.result))
    return result->sound ? texts.sensitivities_found : texts.no_sensitivities;
  return say(texts.ended, texts.of_task(task), closed.reason);
}

StepWords words_without_result(const Refusal& why, const RigWords& texts) {
  StepWords said{texts.no_result, {}};
  if (!why.what.empty()) said.details = {why.what, why.remedy};
  return said;
}

Unjudged why_not_judged(const std::vector<RigFinding>& findings) {
  if (failed(findings, RigPlace::smallest_residual)) return Unjudged::no_repeat;
  return failed(findings, RigPlace::speed) ? Unjudged::pedestal : Unjudged::first_time;
}

}  // namespace

std::string words_of(const PlannedRigSpin& spin, const Shaft& reference, const Words& words) {
  const RigWords& texts = words.rig_work();
  const auto number = [&](double value, int decimals) { return number_text(value, decimals, words); };
  std::string masses;
  for (const FittedWeight& piece : spin.fitted) {
    masses += (masses.empty() ? "" : ",") + say(texts.mass_to_fit, number(piece.mass_kg * 1e3, 1),
                                                reference.planes[static_cast<std::size_t>(piece.plane)].name,
                                                number(degrees(piece.angle_rad), 0));
  }
  std::string said = masses.empty() ? texts.spin_bare : texts.fit + masses + texts.and_spin;
  if (spin.speed_fraction != 1.0) said += say(texts.at_part_of_speed, number(100.0 * spin.speed_fraction, 0));
  if (spin.turned_rad > 0.0) said += say(texts.turned, number(degrees(spin.turned_rad), 0));
  return said;
}

StepWords step_words(const RigStep& step, const RigWork& work, const Words& words) {
  const RigWords& texts = words.rig_work();
  if (step.closed) return {words_of(*step.closed, work.task, texts), {}};
  if (step.number == 0) return words_without_result(step.no_result, texts);
  StepWords said{words_of(step.spin, work.shaft(), words), {}};
  for (const FittedWeight& piece : step.spin.fitted)
    said.details.push_back(mass_line(piece, work.rig(), work.shaft(), words));
  said.details.push_back(step.speed_rad_s ? say(texts.at_speed, number_text(rpm(*step.speed_rad_s), 0, words))
                                          : texts.at_first_speed);
  if (step.mounting) said.details.push_back(mounting_text(step, words));
  return said;
}

std::string mounting_text(const RigStep& step, const Words& words) {
  return step.mounting ? mounting_line(*step.mounting, step.spin.turned_rad, words) : "";
}

std::string numbers_text(const Qualification& result, const Shaft& reference, const Words& words) {
  const auto g_mm = [&](double unbalance_kg_m) { return number_text(in_g_mm(unbalance_kg_m), 0, words); };
  return say(words.rig_work().qualified_numbers, g_mm(result.umar_kg_m[0]), reference.planes[0].name,
             g_mm(result.umar_kg_m[1]), reference.planes[1].name, number_text(100.0 * result.reduction, 1, words),
             g_mm(result.remount_kg_m));
}

namespace {

/// @param all findings of that work, which tell why one of them is not judged.
std::string finding_text(const RigFinding& finding, RigTask task, const std::vector<RigFinding>& all,
                         const Words& words) {
  const RigWords& texts = words.rig_work();
  if (texts.of_finding == nullptr) return finding.words;
  if (finding.verdict == RigVerdict::not_judged) return texts.of_unjudged(why_not_judged(all));
  const bool in_g_mm = task == RigTask::check && finding.place == RigPlace::adapters;
  const auto number = [&](double value) { return number_text(in_g_mm ? value : 100.0 * value, 1, words); };
  const std::string found =
      say(texts.of_finding(task, finding.place), number(finding.measured), number(finding.allowed));
  return finding.verdict == RigVerdict::passed ? found : found + "; " + texts.of_remedy(finding.place);
}

/// What each sensor reads of known masses; only in a language whose findings do not say it.
std::string sensors_text(const std::array<Phasor, 2>& change, const Rig& rig, const Words& words) {
  const RigWords& texts = words.rig_work();
  std::string said;
  for (std::size_t s : {0U, 1U})
    said += (said.empty() ? "" : "; ") + say(texts.sensor_reads, rig.sensors[s].name,
                                             number_text(std::abs(change[s]), 3, words),
                                             number_text(degrees(std::arg(change[s])), 1, words));
  return said;
}

std::string change_text(const Recalibration& found, const Rig& rig, const Words& words) {
  const RigWords& texts = words.rig_work();
  if (texts.sensor_reads == nullptr) return found.words;
  const std::string said = sensors_text(found.change, rig, words);
  if (found.sound) return said;
  return said + "; " + say(texts.no_sensitivity_explains, number_text(100.0 * found.cross_talk, 0, words));
}

std::string qualified_line(const RigStanding& standing, const RigWords& texts) {
  if (!standing.qualified_unix_s) return texts.never_qualified;
  const std::string text = say(texts.qualified_on, utc_day(*standing.qualified_unix_s), utc_day(*standing.due_unix_s));
  return standing.overdue ? text + texts.overdue : text;
}

}  // namespace

std::vector<std::string> lines_of(const RigStanding& standing, const Rig& rig, const Words& words, TimeText time_text) {
  const RigWords& texts = words.rig_work();
  std::vector<std::string> lines = {say(texts.rig, rig.name) + qualified_line(standing, texts)};
  if (standing.last_failed) {
    std::string failed = texts.last_failed;
    for (RigPlace place : standing.failed_places) failed += fmt::format(" {};", texts.of_place(place));
    failed.pop_back();
    lines.push_back(failed);
  }
  if (standing.checked_unix_s)
    lines.push_back(say(texts.last_check, time_text(*standing.checked_unix_s),
                        standing.check_within.value_or(false) ? texts.check_within : texts.check_outside));
  if (standing.taps) {
    const KeptTaps& taps = *standing.taps;
    lines.push_back(
        say(texts.last_knocks, time_text(taps.at_unix_s),
            taps.within ? texts.knocks_within : say(texts.knocks_against, taps.against.in(words.language))));
  }
  return lines;
}

std::optional<ToldResult> told_result(const RigResult& result, const RigWork& work, const Words& words) {
  const auto told = [&](const std::vector<RigFinding>& findings) {
    std::vector<ToldFinding> all;
    for (const RigFinding& finding : findings)
      all.push_back({finding.place, finding.verdict, finding_text(finding, work.task, findings, words)});
    return all;
  };
  if (const auto* found = std::get_if<Qualification>(&result))
    return ToldResult{found->passed, told(found->findings), {numbers_text(*found, work.shaft(), words)}};
  if (const auto* found = std::get_if<Recalibration>(&result))
    return ToldResult{found->sound, {}, {change_text(*found, work.rig(), words)}};
  const auto* check = std::get_if<RigCheck>(&result);
  if (check == nullptr) return std::nullopt;
  ToldResult all{check->within, told(check->findings), {}};
  if (words.rig_work().sensor_reads != nullptr) all.lines = {sensors_text(check->change, work.rig(), words)};
  return all;
}

}  // namespace counterspot
