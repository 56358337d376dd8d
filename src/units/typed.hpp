#pragma once

#include <string_view>

#include "counterspot/units/units.hpp"

namespace counterspot {

/// Reads "6.0 mm/s ± 0.1 mm/s": a vector whose direction is not known, and is given as 0. A ± holds 95 %, as in
/// parse_vector. @throws Error(request, "bad_vector").
TypedVector parse_amplitude(std::string_view text);

}  // namespace counterspot
