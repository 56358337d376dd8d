#pragma once

#include "counterspot/solve/solution.hpp"
#include "report/json.hpp"

namespace counterspot {

/// What to fit at a plane, which the document names.
Json correction_json(const FitInstruction& fit);

}  // namespace counterspot
