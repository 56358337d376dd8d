#pragma once

#include <string>
#include <utility>
#include <vector>

#include "counterspot/sheet/rig_report.hpp"

namespace counterspot {

/// What page and HTML of a rig's report say, in words; so that they say the same.

inline const std::string report_title = "RIG QUALIFICATION";

std::string report_verdict(const RigReport& report);
/// A name and a value each.
std::vector<std::pair<std::string, std::string>> report_facts(const RigReport& report);
/// How many spins, and where their recordings' digits are.
std::string recordings_sentence(const RigReport& report);
/// Once only.
void add_report_note(RigReport& report, const std::string& note);

}  // namespace counterspot
