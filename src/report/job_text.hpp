#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/placement/shop_words.hpp"

namespace counterspot {

/// What a job asks for, stands at and went through, in words: the one writer for commands and page.

/// The whole instruction, with its reasons and cautions.
std::string instruction_text(const KnownJob& known, const Words& words = english());

/// "JOB PS-1042/1 is closed.", and what it was closed with.
std::string closing_text(const Job& job, const Words& words);

/// What was stated to be on the shaft, and what had been asked for, with the entry's number.
std::string stated_text(const NextStep& asked, const Job& job, const Words& words);

/// What an entry was that has just been taken back.
std::string taken_back_text(const Job& job, int entry, const Words& words);

/// What is stated of the job's order now.
std::string order_text(const Job& job, const Words& words);

/// "plane A: 15.0 g at 138.4 deg, radius 39 mm".
std::string text_of(const FittedWeight& piece, const Shaft& shaft, UnitSystem units = UnitSystem::metric,
                    const Words& words = english());

/// "support A", "A", "mode 1".
std::string held_place_text(const HeldPlace& place, const Words& words);

/// "within", a line per place ("support A: 38.4 ± 1.4 g·mm of 348.5 g·mm, within"), a line per reason to doubt it.
std::vector<std::string> lines_of(const Finding& finding, UnitSystem units = UnitSystem::metric,
                                  const Words& words = english());

/// "with what the rig taught (earlier shafts: 12)"; empty if no earlier shaft had a part in it.
std::string taught_text(const Finding& finding, const Words& words = english());

/// What happened in one entry of a job, or to the rig in one of a work on it.
std::string heading_of(const What& what, const Words& words);
std::vector<std::string> lines_of(const What& what, const Shaft& shaft, UnitSystem units = UnitSystem::metric,
                                  const Words& words = english());

/// What is told of an entry where what was noticed at all spins is told once, after all entries.
What without_warnings(What what);

/// A job as a person reads it: what happened, in order, and what was taken back.
std::string text_of(const Job& job, const Words& words = english());

/// The lines below one another, each behind `margin`.
std::string below(const std::vector<std::string>& lines, const std::string& margin);

/// What holds a verdict back, each with its remedy, to be said before anything else; empty if nothing does.
std::string held_back_text(const std::vector<SaidReason>& held_back, const Words& words = english());

}  // namespace counterspot
