#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "counterspot/units/units.hpp"

namespace counterspot {

/// A unit's spelling after `plain_spelling`, what it measures, and its size in SI.
struct Unit {
  std::string_view spelling;
  Dimension dimension;
  double si_per_unit;
};

/// The unit, or null. `spelling` as typed.
const Unit* find_unit(std::string_view spelling, Dimension dimension);

/// "g·mm", "g mm", "g-mm", "g.mm", "g*mm" → "g*mm"; "µm", "μm" → "um"; "²", "^2" → "2"; `"` → "in"; no spaces.
std::string plain_spelling(std::string_view text);

/// What a person may type, as in the table: "g*mm", "um"; "" where a bare number is taken.
std::vector<std::string_view> unit_spellings(Dimension dimension);
/// "g, kg, oz, lb": the same in a sentence.
std::string units_taken(Dimension dimension);

/// "a mass", "a length": for messages.
std::string_view dimension_name(Dimension dimension);

}  // namespace counterspot
