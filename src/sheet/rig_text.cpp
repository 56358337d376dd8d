#include "sheet/rig_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/log/log.hpp"

namespace counterspot {

std::string report_verdict(const RigReport& report) {
  return report.result.passed ? "passed" : "failed";
}

std::vector<std::pair<std::string, std::string>> report_facts(const RigReport& report) {
  const Qualification& result = report.result;
  const std::string& a = report.shaft.planes[0].name;
  const std::string& b = report.shaft.planes[1].name;
  std::vector<std::pair<std::string, std::string>> facts = {
      {"reference shaft", report.shaft.id},
      {"begun, judged", utc_day(report.opened_unix_s) + ", " + utc_day(report.date_unix_s)},
      {"to be qualified again by", result.passed ? utc_day(report.due_unix_s) : "now: it did not pass"},
      {"speed", fmt::format("{:.0f} rpm", rpm(report.speed_rad_s))},
      {"claimed", fmt::format("Umar {:.0f} g·mm, reduction {:.0f} %", in_g_mm(report.claims.umar_kg_m),
                              100.0 * report.claims.reduction)},
      {"found",
       fmt::format("Umar {:.0f} g·mm in {}, {:.0f} g·mm in {}; reduction {:.1f} %", in_g_mm(result.umar_kg_m[0]), a,
                   in_g_mm(result.umar_kg_m[1]), b, 100.0 * result.reduction)},
      {"mounting to mounting", fmt::format("{:.1f} g·mm, one standard deviation", in_g_mm(result.remount_kg_m))},
      {"adapters", fmt::format("{:.0f} g·mm in {}, {:.0f} g·mm in {}", in_g_mm(std::abs(result.adapters_kg_m[0])), a,
                               in_g_mm(std::abs(result.adapters_kg_m[1])), b)},
      {"by", "ISO 21940-21, from memory; sensors, separation, speed and adapters by our own rules"}};
  return facts;
}

std::string recordings_sentence(const RigReport& report) {
  const auto recorded = std::count_if(report.spins.begin(), report.spins.end(),
                                      [](const SheetSpin& spin) { return !spin.sha256.empty(); });
  return fmt::format("{} spins, {} of them recorded; the log has every reading, and every recording's SHA-256",
                     report.spins.size(), recorded);
}

void add_report_note(RigReport& report, const std::string& note) {
  if (std::find(report.notes.begin(), report.notes.end(), note) == report.notes.end()) report.notes.push_back(note);
}

}  // namespace counterspot
