#pragma once

#include <string>

#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/rig_guide.hpp"

namespace counterspot::commands {

/// One instruction, or the judgement, large and short; the next action last.
std::string text_of_next(const RigWork& work, const Words& words);

/// Everything that happened in a work.
std::string text_of(const RigWork& work, const Words& words);

/// "QUALIFIED on 2026-11-26, due 2027-11-26", and the last check.
std::string text_of(const RigStanding& standing, const Rig& rig, const Words& words);

}  // namespace counterspot::commands
