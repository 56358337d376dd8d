#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/job/job.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/solve/plan.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// A plane's face as it stands: seen from `end`, with the weights that are on the shaft.
ClockFace face_of(const Rig& rig, const Shaft& shaft, std::size_t plane, const std::vector<FittedWeight>& on_shaft,
                  const std::string& end);

/// The same with what is to be fitted there next (metal to take off, where the mass is negative).
ClockFace face_to_fit(const Rig& rig, const Shaft& shaft, std::size_t plane, const std::vector<FittedWeight>& on_shaft,
                      const std::vector<FittedWeight>& to_fit, UnitSystem units);

/// For every plane of a shaft: what all spins were out of balance. Coefficients as in InfluenceSummary.
std::vector<VectorDiagram> diagrams_of(const Rig& rig, const Shaft& shaft, const Limits& limits,
                                       const std::vector<SpinReading>& spins,
                                       const std::vector<CoefficientEstimate>& coefficients);

/// Of a solution: the faces with what to fit once the trial weights are off (nothing, if within limit), over the
/// vectors of all spins.
Picture solution_picture(const Rig& rig, const Shaft& shaft, const Solution& solution,
                         const std::vector<FittedWeight>& on_shaft, const Words& words = english());

/// Of a choice of pieces: the faces with pieces on the shaft, pieces to fit, and where none may go.
Picture placing_picture(const Rig& rig, const Shaft& shaft, const Stock& stock, const std::vector<Placed>& placed,
                        const std::vector<FittedWeight>& on_shaft, const std::string& end, UnitSystem units,
                        const Words& words = english());

}  // namespace counterspot
