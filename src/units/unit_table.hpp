#pragma once

#include <string>
#include <string_view>

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

/// "g, kg, oz, lb": what a person may type.
std::string units_taken(Dimension dimension);

/// "a mass", "a length": for messages.
std::string_view dimension_name(Dimension dimension);

}  // namespace counterspot
