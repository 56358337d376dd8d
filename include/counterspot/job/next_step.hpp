#pragma once

#include <optional>
#include <variant>
#include <vector>

#include "counterspot/job/analysis.hpp"
#include "counterspot/solve/plan.hpp"
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

/// The other of two choices: the trial weights come off, and one weight per plane is fitted.
struct Instead {
  std::vector<int> take_off;         ///< numbers of pieces on the shaft, 1, 2, 3, …
  std::vector<FittedWeight> pieces;  ///< what to fit once they are off
  double expected_over_limit = 0.0;  ///< what is expected to be left then, at the worst place
};

/// A trial weight that is asked for: at which plane, and what is planned there, or why nothing is.
struct AskedTrial {
  std::size_t plane = 0;
  std::variant<PlannedTrial, NoTrial> plan;
};

/// What is chosen between where earlier shafts taught something: the weights that are asked for, and the others.
struct Choice {
  Prospect asked;
  Prospect other;  ///< of the best trial where a correction is asked for, and the other way round
};

/// What speaks against readings, and the entries of the job that it speaks of.
struct Doubt {
  Warning warning;
  std::vector<int> entries;
};

/// Why a job ends without a shaft that is known to be within limit.
enum class EndReason {
  stays_in_doubt,  ///< nothing that the job could still ask for takes the first doubt away
  still_in_doubt,  ///< the first doubt is there after as many spins alike as are worth it
  too_unsure,      ///< what is measured is too near the limit for its uncertainty, after as many spins alike
  too_many,        ///< `corrections_at_most` did not bring it within limit
  no_room          ///< no weight that the planes may still carry makes it better
};
struct End {
  EndReason reason{};
  std::size_t spins_alike = 0;     ///< with the weights that are on; to still_in_doubt also those taken back
  double unsure_over_limit = 0.0;  ///< the largest expanded uncertainty over its limit
};

/// One instruction, as a value: `step_words` (report/step_words.hpp) says it to people.
struct NextStep {
  StepKind kind = StepKind::nothing;
  /// What to fit on top of what is on the shaft; to say_fitted: what was asked for.
  std::vector<FittedWeight> pieces = {};
  std::optional<double> speed_rad_s = {};          ///< of the spin that is asked for; empty: that of the spins before
  std::vector<AskedTrial> trials = {};             ///< to fit_trial: one, or one in each plane for a single spin
  std::optional<Instead> instead = {};             ///< where trial weights are on; people are shown it first
  std::optional<double> expected_over_limit = {};  ///< what `pieces` of a correction are expected to leave
  /// The gravest first. To mend: empty if the spins give no answer (`Analysis::why`); to spin_again: that the spins
  /// contradict one another, or empty if they are too near the limit.
  std::vector<Doubt> doubts = {};
  std::optional<End> end = {};        ///< to close_not_within
  bool weight_asked = false;          ///< to say_fitted: a weight was asked for before the reading moved
  std::optional<int> take_back = {};  ///< entry of the one spin that is in doubt
  std::optional<Choice> choice = {};  ///< of a weight to be fitted before the job's own spins suffice
};

/// A weight is to be fitted or the shaft to be spun.
bool wants_hands(StepKind kind);

/// Every state has a step that ends it: the same spin is asked for `spins_alike_at_most` times, and then something
/// else; after `corrections_at_most` the job is to be closed as it stands. Of a shaft of three planes and more that
/// bends, every set of weights is spun at each speed at which it was spun as found, two at least.
inline constexpr int spins_alike_at_most = 3;
inline constexpr int corrections_at_most = 6;
/// @param stock what trial weights are chosen from, and where they may go; without it any mass, anywhere.
NextStep next_step(const Job& job, const Analysis& analysis, const std::optional<FamilyPrior>& prior,
                   const Stock* stock = nullptr);

}  // namespace counterspot
