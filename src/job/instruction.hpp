#pragma once

#include "counterspot/job/solution.hpp"

namespace counterspot {

/// A correction in the operator's words, at the plane's radius.
FitInstruction instruction_for(const Phasor& correction_kg_m, const Plane& plane, const Rig& rig, const Shaft& shaft);

}  // namespace counterspot
