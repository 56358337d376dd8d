#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/job/analysis.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/solve/prospect.hpp"

namespace counterspot {

enum class StepKind {
  spin_as_found,
  spin,
  spin_again,
  fit_trial,
  fit_correction,
  say_fitted,        ///< the reading moved, and no change of weights was stated: what is on?
  close,             ///< within limit
  close_not_within,  ///< nothing that the job could still ask for would bring it within: close it as it stands
  mend,
  nothing
};

/// The other of two choices: the trial weights come off, and one weight a plane is fitted.
struct Instead {
  std::vector<int> take_off;         ///< numbers of pieces on the shaft, 1, 2, 3, …
  std::vector<FittedWeight> pieces;  ///< what to fit once they are off
  double expected_over_limit = 0.0;  ///< what is expected to be left then, at the worst place
};

/// What is chosen between where earlier shafts taught something: the weights that are asked for, and the others.
struct Choice {
  Prospect asked;
  Prospect other;  ///< of the best trial where a correction is asked for, and the other way round
};

/// One instruction.
struct NextStep {
  StepKind kind = StepKind::nothing;
  std::string words;                 ///< short, to be read from the rig: "FIT the trial weight at plane A"
  std::vector<std::string> details;  ///< a line each
  std::vector<FittedWeight> pieces;  ///< what to fit on top of what is on the shaft; to say_fitted: what was asked for
  bool cautions = false;             ///< a weight is to be fitted or the shaft to be spun
  std::optional<double> speed_rad_s = {};          ///< of the spin that is asked for; empty: that of the spins before
  std::optional<Instead> instead = {};             ///< where trial weights are on; people are shown it first
  std::optional<double> expected_over_limit = {};  ///< what `pieces` of a correction are expected to leave
  std::optional<int> take_back = {};               ///< entry of the one spin that is in doubt
  std::optional<Choice> choice = {};               ///< of a weight to be fitted before the job's own spins suffice
};

/// Every state has a step that ends it: the same spin is asked for `spins_alike_at_most` times, and then something
/// else; after `corrections_at_most` the job is to be closed as it stands. Of a shaft of three planes and more that
/// bends, every set of weights is spun at each speed at which it was spun as found, two at least.
inline constexpr int spins_alike_at_most = 3;
inline constexpr int corrections_at_most = 6;
/// @param stock what trial weights are chosen from, and where they may go; without it any mass, anywhere.
NextStep next_step(const Job& job, const Analysis& analysis, const std::optional<FamilyPrior>& prior,
                   const Stock* stock = nullptr);

}  // namespace counterspot
