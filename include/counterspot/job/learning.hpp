#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/job/job.hpp"
#include "counterspot/job/stated.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// Every spin with known weights teaches. The coefficients of shaft j of a family on one rig are taken as
///   α_j ~ N(μ, T): T the scatter from shaft to shaft,
/// and its spins give a likelihood of α_j in which Z_0 does not matter. μ and T are found by expectation–maximisation
/// (Dempster, Laird & Rubin 1977; random-effects regression, Laird & Ware 1982), T with an inverse-Wishart prior around
/// `usual_scatter`, since a few shafts say little of a scatter. A new shaft starts from N(μ, T + var(μ)).
struct FamilyPrior {
  CoefficientPrior coefficients;
  int shafts = 0;        ///< jobs it rests on
  double scatter = 0.0;  ///< one standard deviation from shaft to shaft, relative to the coefficients' size
  bool between = false;  ///< no shaft like this one yet: drawn between other families, and wider
  bool of_rig = false;   ///< from the model of the rig (rig_model.hpp), not from shafts like this one
  int brought_in = 0;    ///< of `shafts`, those whose lessons on the rig came from another log
  std::vector<Motion> motions;
};

/// Who teaches: shafts like this one alone; or the physics of the rig; with what it lacks learnt beside it, or without.
enum class Teacher { family, physics, rig };

struct LearningOptions {
  Teacher teacher = Teacher::rig;
  /// From shaft to shaft of one family, one standard deviation, until the shafts themselves say more (common practice,
  /// no source).
  double usual_scatter = 0.08;
  double usual_scatter_worth = 8.0;  ///< how many shafts' say that has
  int family_from = 5;    ///< so many shafts like it teach by themselves; with fewer the model of the rig does
  int jobs_at_most = 60;  ///< of the newest; so that a slow change of the rig is followed
};

/// How unlike two shafts are: the largest difference of tube, length, mass and planes over what one family may differ
/// by (6 % of diameter, wall and length, 12 % of mass, 4 % of the span in a plane's position). Up to 1: one family.
double unlikeness(const Shaft& one, const Shaft& other);

/// Earlier jobs, wherever they are kept, without the one in work; asked only for what is needed.
class EarlierJobs {
 public:
  virtual ~EarlierJobs() = default;
  /// On this rig, the newest first, of shafts that are no more unlike.
  virtual std::vector<Job> of_shafts_like(const Rig& rig, const Shaft& shaft, double unlike_at_most) const = 0;
  /// What all of them taught of the rig, for sensors of these kinds; empty if nothing.
  virtual std::optional<RigModel> rig_model(const Rig& rig, const std::vector<Motion>& motions) const = 0;
};

/// What a job starts from: of earlier jobs those with the same sensors and kinds of motion count; spins within 2 % of
/// the job's speed are brought to it.
/// @return empty if there is nothing to go by.
std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const Job& job, const LearningOptions& options = {});

/// The same of a shaft whose spins are in no job.
std::optional<FamilyPrior> prior_from(const EarlierJobs& earlier, const Rig& rig, const Shaft& shaft,
                                      const std::vector<Motion>& motions, double speed_rad_s,
                                      const LearningOptions& options = {});

/// @param past jobs on the same rig, the newest first.
std::optional<FamilyPrior> prior_from(const std::vector<Job>& past, const Job& job,
                                      const LearningOptions& options = {});

/// What earlier jobs on a rig show of its spins: how they repeat, and what their sensors show beside the orders.
/// @param past the newest first; those with the same sensors count, and not the job `uid`.
void learn_from(const std::vector<Job>& past, const Rig& rig, const std::string& uid, RigKnowledge& knowledge);

/// What the spins of a job say, with what earlier shafts taught where it helps.
struct Analysis {
  std::optional<Solution> solution;  ///< empty while the spins do not suffice
  bool used_prior = false;
  int rig_taught_by = 0;          ///< as in Finding
  int brought_in = 0;             ///< as in Finding
  bool own_coefficients = false;  ///< the job's own spins would do without a prior
  std::string why;                ///< one sentence: why there is no solution
  std::string remedy;
  /// Gathered, also those of a prior that was dropped because it was contradicted; with a solution not what holds its
  /// verdict back.
  Warnings warnings;
  std::optional<MovedReading> moved;  ///< of the last spin, as long as nobody has said why
};
Analysis analyse(const Job& job, const std::optional<FamilyPrior>& prior, const RigKnowledge& rig = {});
/// As the log keeps it; empty if there is no solution.
std::optional<Finding> finding_of(const Analysis& analysis);

/// Measured spins that are in no job, with what earlier shafts taught where it goes with them and they do not
/// contradict it.
struct TaughtSolution {
  Solution solution;
  bool used_prior = false;
  int rig_taught_by = 0;  ///< as in Finding
  int brought_in = 0;     ///< as in Finding
};
Finding finding_of(const TaughtSolution& taught);
/// @throws Error as solve_readings.
TaughtSolution solve_taught(const Rig& rig, const Shaft& shaft, const MeasuredSpins& spins,
                            const std::optional<FamilyPrior>& prior, const SolveOptions& options = {});

/// What is on the shaft when a correction is fitted.
enum class Base {
  as_spun,  ///< all that the last spin carried
  bare      ///< that without the trial weights
};

/// Root-mean-square of what a correction would leave over the limit, at the place where that is worst.
double predicted_over_limit(const Solution& solution, const Rig& rig, const Shaft& shaft, Base base = Base::as_spun);

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
