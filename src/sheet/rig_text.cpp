#include "sheet/rig_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/log/log.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

using Cells = std::vector<std::string>;

std::string unbalance(double kg_m, const Words& words) {
  return with_decimal_sign(unbalance_text(kg_m, UnitSystem::metric), words);
}

/// "A 35.1 g·mm, B 31.0 g·mm".
std::string in_planes(const RigReport& report, double a_kg_m, double b_kg_m, const Words& words) {
  return fmt::format("{} {}, {} {}", report.shaft.planes[0].name, unbalance(a_kg_m, words), report.shaft.planes[1].name,
                     unbalance(b_kg_m, words));
}

std::string percent(double fraction, const Words& words) {
  return number_text(100.0 * fraction, 1, words) + " %";
}

std::string item_name(RigPlace place, const Words& words) {
  const std::string_view name = rig_place_name(place);
  return std::string(words.of_rig_place != nullptr ? words.of_rig_place(name) : name);
}

const char* outcome(RigVerdict verdict, const Words& words) {
  switch (verdict) {
    case RigVerdict::passed: return words.passed;
    case RigVerdict::failed: return words.failed;
    case RigVerdict::not_judged: return words.not_judged;
  }
  return words.not_judged;
}

bool failed(const RigReport& report, RigPlace place) {
  return std::any_of(report.result.findings.begin(), report.result.findings.end(), [&](const RigFinding& finding) {
    return finding.place == place && finding.verdict == RigVerdict::failed;
  });
}

/// Why an item was not judged: `qualify` leaves out what another fault would make look faulty.
const char* why_not_judged(const RigReport& report, const Words& words) {
  if (failed(report, RigPlace::smallest_residual)) return words.does_not_repeat;
  if (failed(report, RigPlace::speed)) return words.pedestal_not_sensor;
  return words.first_qualification;
}

/// What was claimed, measured and is allowed.
Cells numbers_of(const RigReport& report, const RigFinding& finding, const Words& words) {
  const Qualification& result = report.result;
  const RigClaims& claims = report.claims;
  const auto up_to = [&](double fraction) { return "≤ " + percent(fraction, words); };
  const auto spread = [&](const std::string& size) { return put_in(words.spread, size); };
  switch (finding.place) {
    case RigPlace::smallest_residual:
      return {unbalance(claims.umar_kg_m, words),
              in_planes(report, result.umar_kg_m[0], result.umar_kg_m[1], words) + "; " +
                  spread(percent(finding.measured, words)),
              spread("≤ " + percent(small_mass_band, words))};
    case RigPlace::reduction:
      return {percent(claims.reduction, words), percent(result.reduction, words),
              "≥ " + percent(claims.reduction, words)};
    case RigPlace::adapters:
      return {"–",
              in_planes(report, std::abs(result.adapters_kg_m[0]), std::abs(result.adapters_kg_m[1]), words) + "; " +
                  spread(unbalance(result.remount_kg_m, words)),
              "≤ " + unbalance(claims.adapters_over_umar * claims.umar_kg_m, words) + "; " +
                  spread("≤ " + unbalance(claims.umar_kg_m, words))};
    case RigPlace::sensors:
    case RigPlace::separation:
    case RigPlace::speed: break;
  }
  return {"–", percent(finding.measured, words), up_to(finding.allowed)};
}

void add_once(std::vector<std::string>& list, const std::string& text) {
  if (!text.empty() && std::find(list.begin(), list.end(), text) == list.end()) list.push_back(text);
}

}  // namespace

bool all_judged(const RigReport& report) {
  return std::none_of(report.result.findings.begin(), report.result.findings.end(),
                      [](const RigFinding& finding) { return finding.verdict == RigVerdict::not_judged; });
}

std::string report_verdict(const RigReport& report, const Words& words) {
  if (!report.result.passed) return words.failed;
  if (all_judged(report)) return words.passed;
  const auto& findings = report.result.findings;
  const auto passed = std::count_if(findings.begin(), findings.end(),
                                    [](const RigFinding& each) { return each.verdict == RigVerdict::passed; });
  return put_in(put_in(words.passed_of, std::to_string(passed)).c_str(), std::to_string(findings.size()));
}

std::vector<std::pair<std::string, std::string>> report_facts(const RigReport& report, const Words& words) {
  const Qualification& result = report.result;
  return {{words.reference_shaft, report.shaft.id},
          {words.begun_and_judged, utc_day(report.opened_unix_s) + ", " + utc_day(report.date_unix_s)},
          {words.qualify_again_by, result.passed ? utc_day(report.due_unix_s) : words.now_failed},
          {words.speed, fmt::format("{:.0f}{}", rpm(report.speed_rad_s), words.rpm)},
          {words.judged_by, words.our_rules}};
}

std::vector<std::vector<std::string>> findings_table(const RigReport& report, const Words& words) {
  std::vector<Cells> rows{{words.judged_item, words.claimed, words.measured, words.allowed, words.verdict}};
  for (const RigFinding& finding : report.result.findings) {
    Cells row{item_name(finding.place, words)};
    const Cells numbers =
        finding.verdict == RigVerdict::not_judged ? Cells{"–", "–", "–"} : numbers_of(report, finding, words);
    row.insert(row.end(), numbers.begin(), numbers.end());
    row.emplace_back(outcome(finding.verdict, words));
    rows.push_back(std::move(row));
  }
  return rows;
}

std::vector<std::string> findings_notes(const RigReport& report, const Words& words) {
  std::vector<std::string> notes;
  std::string left_out;
  for (const RigFinding& finding : report.result.findings) {
    if (finding.verdict == RigVerdict::failed)
      add_once(notes,
               item_name(finding.place, words) + ": " + std::string(words.of_rig_fault(rig_place_name(finding.place))));
    if (finding.verdict == RigVerdict::not_judged)
      left_out += (left_out.empty() ? "" : ", ") + item_name(finding.place, words);
  }
  if (!left_out.empty()) notes.push_back(left_out + ": " + why_not_judged(report, words));
  return notes;
}

std::string recordings_sentence(const RigReport& report, const Words& words) {
  const auto recorded = std::count_if(report.spins.begin(), report.spins.end(),
                                      [](const SheetSpin& spin) { return !spin.sha256.empty(); });
  return put_in(put_in(words.spins_recorded, std::to_string(report.spins.size())).c_str(), std::to_string(recorded));
}

std::vector<std::string> report_notes(const RigReport& report, const Words& words) {
  std::vector<std::string> notes;
  for (const SheetNote& note : report.said) add_once(notes, meaning_text(note.code, note.said, {note.sensor}, words));
  for (const std::string& reason : report.taken_back) add_once(notes, put_in(words.taken_back_for, reason));
  return notes;
}

}  // namespace counterspot
