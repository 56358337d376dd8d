#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/drawing/titled.hpp"
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

/// Of a solution: the faces with what to fit once the trial weights are off, which is said over them (nothing, if
/// within limit), over the vectors of all spins, all at one scale, over the residuals spin by spin and, if it is asked
/// for, their budget.
Picture solution_picture(const Rig& rig, const Shaft& shaft, const Solution& solution,
                         const std::vector<FittedWeight>& on_shaft, const Words& words = english(),
                         const BudgetTable* budget = nullptr);

/// What the residual at each place is unsure by, source by source: bars, one row a source, 224 mm wide.
Picture budget_picture(const BudgetTable& budget, const Words& words = english());

/// A choice of pieces, and what is said over it.
struct PlacedChoice {
  std::vector<Placed> placed;
  double worst_ratio = 0.0;  ///< expected, of a limit
};

/// What is best, and the choice with fewer pieces if there is one.
std::vector<PlacedChoice> choices_of(const Correction& correction);

/// Of choices of pieces, side by side: the faces with pieces on the shaft, pieces to fit, each with what it is in the
/// stock, and where none may go.
Picture placing_picture(const Rig& rig, const Shaft& shaft, const Stock& stock,
                        const std::vector<PlacedChoice>& choices, const std::vector<FittedWeight>& on_shaft,
                        const std::string& end, UnitSystem units, const Words& words = english());

/// What a picture of a job is of, as its entries stand; the verdict only while no weight was changed since its spin.
PictureOf picture_of(const Job& job, UnitSystem units, const std::string& program);

/// What a picture of these spins is of, as far as their files and their solution say.
PictureOf picture_of(const Rig& rig, const Shaft& shaft, const Solution& solution,
                     UnitSystem units = UnitSystem::metric);

}  // namespace counterspot
