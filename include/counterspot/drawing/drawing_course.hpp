#pragma once

#include <vector>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// What every spin was out of balance at every plane, as all spins together say now; the last one with what the
/// coefficients are unsure by.
std::vector<VectorDiagram> course_of(const Rig& rig, const Shaft& shaft, const Solution& solution);

/// The size of a residual over its limit, in per cent.
struct OverLimit {
  double percent = 0.0;
  double expanded_percent = 0.0;  ///< of 95 %; 0: not known
};
OverLimit over_limit(const SpinVector& spin, double limit_kg_m);

}  // namespace counterspot
