#pragma once

#include <string_view>

#include "counterspot/drawing/words.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// What a warning means for the answer, which is said before what was noticed: "the reading may be too small". Empty
/// for a note, which changes nothing.
std::string_view consequence_of(WarningCode code, const Words& words);

}  // namespace counterspot
