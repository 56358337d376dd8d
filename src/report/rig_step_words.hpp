#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/log/log.hpp"
#include "counterspot/rig/rig_work.hpp"
#include "report/step_words.hpp"

namespace counterspot {

/// "FIT 102.6 g on A at 0 deg, nothing else, and SPIN".
std::string words_of(const PlannedRigSpin& spin, const Shaft& reference, const Words& words = english());

/// The one writer for commands, sheet and programs. @param step of that work, as `next_step` gives it. Why spins
/// cannot be judged is said in English.
StepWords step_words(const RigStep& step, const RigWork& work, const Words& words = english());

/// How the reference shaft is to sit in its adapters; empty where that is not asked for.
std::string mounting_text(const RigStep& step, const Words& words);

/// How a time is written; the page at the rig writes that of the rig's clock.
using TimeText = std::string (*)(std::int64_t unix_s);
/// "QUALIFIED on 2026-11-26, due 2027-11-26", and the last checks, a line each.
std::vector<std::string> lines_of(const RigStanding& standing, const Rig& rig, const Words& words,
                                  TimeText time_text = utc_minute);
/// "Umar found 41 g·mm in A, …", of a qualification.
std::string numbers_text(const Qualification& result, const Shaft& reference, const Words& words);

/// One thing that was judged, and what to look at: English as it was said then, another language from the figures that
/// were kept.
struct ToldFinding {
  RigPlace place = RigPlace::sensors;
  RigVerdict verdict = RigVerdict::not_judged;
  std::string words;
};
/// What work on the rig came to, as commands and page tell it; what follows from it each says in its own words.
struct ToldResult {
  bool good = false;  ///< it passed, is within, or can be written
  std::vector<ToldFinding> findings;
  std::vector<std::string> lines;
};
/// Empty if there is no result.
std::optional<ToldResult> told_result(const RigResult& result, const RigWork& work, const Words& words);

}  // namespace counterspot
