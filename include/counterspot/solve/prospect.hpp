#pragma once

#include <limits>
#include <vector>

#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// What fitting weights and spinning is expected to bring, judged before it is done.
struct Prospect {
  double within = 0.0;  ///< chance that the shaft is called within limit after that spin
  double falls = 0.0;   ///< chance that the largest residual, over its limit, is smaller then
  double spins = std::numeric_limits<double>::infinity();  ///< expected until it is called within, that spin counted
};

/// How the shaft stands, and how its spins were solved.
struct ProspectBasis {
  const Rig& rig;
  const Shaft& shaft;
  const std::vector<Motion>& motions;
  const SolveOptions& options;     ///< with the prior as it was used
  std::vector<SpinReading> spins;  ///< the last one is the present state
  const Solution& solution;        ///< of these spins
};

/// One correction, then others until it is within. The unbalance is drawn from its covariance, the fitting from the
/// rig's setting uncertainty; each draw is judged with the uncertainty that the regression will have once the spin is
/// one of its rows (known beforehand: it depends on the weights, hardly on what is read). A draw that is not within is
/// corrected by what that spin taught; 1/p spins if p of those are within.
/// @return `spins` infinite where the regression has no answer for such spins.
Prospect prospect_of_correction(const ProspectBasis& basis, const std::vector<FittedWeight>& pieces);

/// One spin with trial weights, which then come off, and a correction by what all spins taught.
Prospect prospect_of_trial(const ProspectBasis& basis, const std::vector<FittedWeight>& pieces);

}  // namespace counterspot
