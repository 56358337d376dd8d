#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/rig/rig_work.hpp"
#include "counterspot/sheet/sheet.hpp"

namespace counterspot {

/// The dated report of a rig's qualification, for the file. As the balance sheet: first what is on it, then the same as
/// pages, as HTML, as JSON; the same bytes for the same work.
struct RigReport {
  Rig rig;
  Shaft shaft;  ///< the reference shaft
  RigClaims claims;
  std::string program;  ///< that judged it
  std::int64_t opened_unix_s = 0;
  std::int64_t date_unix_s = 0;  ///< of the judgement
  std::int64_t due_unix_s = 0;   ///< if it passed
  double speed_rad_s = 0.0;
  Qualification result;
  std::vector<SheetSpin> spins;         ///< one per step of the plan
  std::vector<SheetNote> said;          ///< warnings, as they were said then
  std::vector<std::string> taken_back;  ///< why spins were
};

/// @throws Error(request, "not_judged") before all spins are made and judged.
/// @param words of what the spins are called; documents for programs are in English.
RigReport rig_report_of(const RigWork& work, const Words& words = english());

/// "bay-2-2026-11-26.pdf".
std::string rig_report_file(const RigReport& report);

/// With the margins and the title block of the balance sheet. Draw it with the report's date.
std::vector<Picture> rig_report_pages(const RigReport& report, const Words& words = english(), Paper paper = Paper::a4);
std::string rig_report_html(const RigReport& report, const Words& words = english());
std::string rig_report_json(const RigReport& report);

}  // namespace counterspot
