#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/guide/guide.hpp"

namespace counterspot {

/// An instruction as people read it.
struct StepWords {
  std::string words;  ///< short, to be read from the rig: "FIT a trial weight at plane A: 15.0 g at 4:37"
  std::vector<std::string> details;  ///< a line each: where, why, and what to do next
};

/// The one writer for commands, page and programs. @param step of that job, as `KnownJob::next` gives it. Why spins
/// give no answer is said in English.
StepWords step_words(const NextStep& step, const KnownJob& known, const Words& words = english());

}  // namespace counterspot
