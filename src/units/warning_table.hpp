#pragma once

#include <string_view>

#include "counterspot/units/warning.hpp"

namespace counterspot {

/// All that is said of one kind of warning. What was noticed is said in English with its figures, and in other
/// languages by its meaning.
struct WarningRow {
  WarningCode code;
  const char* name;
  Severity severity;
  const char* remedy;
  const char* remedy_de;
  const char* meaning_de;
  const char* consequence;  ///< for the answer; a note has none, for it changes nothing
  const char* consequence_de;
};

const WarningRow* warning_row(WarningCode code);       ///< null: there is none
const WarningRow* warning_row(std::string_view name);  ///< likewise

/// What a warning means for the answer, which is said before what was noticed: "the reading may be too small".
std::string_view consequence_of(WarningCode code, std::string_view language);

}  // namespace counterspot
