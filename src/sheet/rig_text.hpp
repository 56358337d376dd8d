#pragma once

#include <string>
#include <utility>
#include <vector>

#include "counterspot/sheet/rig_report.hpp"

namespace counterspot {

/// What page and HTML of a rig's report say, in words; so that they say the same.

/// "passed" only if every item was judged and passed; "4 of 6 passed" where some were not judged.
std::string report_verdict(const RigReport& report, const Words& words);
/// Was every item judged?
bool all_judged(const RigReport& report);

/// A name and a value each.
std::vector<std::pair<std::string, std::string>> report_facts(const RigReport& report, const Words& words);
/// The first row names the columns: what was judged, claimed, measured, allowed, and with what outcome.
std::vector<std::vector<std::string>> findings_table(const RigReport& report, const Words& words);
/// Of what failed what to look at, of what was not judged why, each once.
std::vector<std::string> findings_notes(const RigReport& report, const Words& words);
/// How many spins, and where their recordings' digits are.
std::string recordings_sentence(const RigReport& report, const Words& words);
/// Reasons of spins taken back, and warnings.
std::vector<std::string> report_notes(const RigReport& report, const Words& words);

}  // namespace counterspot
