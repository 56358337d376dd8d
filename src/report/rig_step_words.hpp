#pragma once

#include "counterspot/rig/rig_work.hpp"
#include "report/step_words.hpp"

namespace counterspot {

/// "FIT 102.6 g on A at 0 deg, nothing else, and SPIN".
std::string words_of(const PlannedRigSpin& spin, const Shaft& reference);

/// The one writer for commands, sheet and programs. @param step of that work, as `next_step` gives it.
StepWords step_words(const RigStep& step, const RigWork& work);

}  // namespace counterspot
