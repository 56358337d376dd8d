#pragma once

#include <string>

#include "counterspot/drawing/words.hpp"
#include "counterspot/rig_setup/findings.hpp"

namespace counterspot {

/// Why a step of a rig's set-up is asked for again, and what to do differently.
struct AgainWords {
  std::string why;
  std::string instead;
};
AgainWords words_of(const Again& again, const Words& words);

}  // namespace counterspot
