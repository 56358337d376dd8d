#pragma once

#include "counterspot/shaft/beam.hpp"

namespace counterspot {

/// Between the nodes in a straight line, beyond the ends as at the end: |error| ≤ h²/8·|φ''|, under 0.1 % of 1 with 40
/// elements in the first modes.
double shape_at(const BeamSummary& beam, const BeamMode& mode, double position_m);

}  // namespace counterspot
