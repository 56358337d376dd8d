#pragma once

#include <optional>
#include <string_view>

#include "counterspot/units/units.hpp"

namespace counterspot {

/// Reads "6.0 mm/s ± 0.1 mm/s": a vector whose direction is not known, and is given as 0. A ± holds 95 %, as in
/// parse_vector. @throws Error(request, "bad_vector").
TypedVector parse_amplitude(std::string_view text);

/// A quantity with what was typed behind its ±, both in SI.
struct TypedSize {
  double value = 0.0;
  std::optional<double> plus_minus;
};

/// Reads "4.5 kg ± 0.5 kg", or "4.5 kg" alone. @throws Error(request, "bad_quantity").
TypedSize parse_size_with_plus_minus(std::string_view text, Dimension dimension);

}  // namespace counterspot
