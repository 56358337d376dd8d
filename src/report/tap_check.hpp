#pragma once

#include <string>

#include "counterspot/drawing/words.hpp"
#include "counterspot/rig_setup/tap_check.hpp"
#include "report/json.hpp"

namespace counterspot {

/// A daily check by knocks, for programs and for people; the next action last.
Json document_of_taps(const FoundOrAgain<TapCheck>& found);
std::string taps_text(const FoundOrAgain<TapCheck>& found, const Rig& rig, const Words& words);

}  // namespace counterspot
