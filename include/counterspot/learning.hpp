#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence.hpp"
#include "counterspot/job.hpp"

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
  std::vector<Motion> motions;
};

struct LearningOptions {
  /// From shaft to shaft of one family, one standard deviation, until the shafts themselves say more (common practice,
  /// no source).
  double usual_scatter = 0.08;
  double usual_scatter_worth = 8.0;  ///< how many shafts' say that has
  int jobs_at_most = 60;             ///< of the newest; so that a slow change of the rig is followed
};

/// How unlike two shafts are: the largest difference of tube, length, mass and planes over what one family may differ
/// by (6 % of diameter, wall and length, 12 % of mass, 4 % of the span in a plane's position). Up to 1: one family.
double unlikeness(const Shaft& one, const Shaft& other);

/// @param past jobs on the same rig, the newest first. Only those with the same sensors and kinds of motion count.
/// @param speed_rad_s of the new shaft's spins; others within 2 % are brought to it.
/// @return empty if there is nothing to go by.
std::optional<FamilyPrior> prior_from(const std::vector<Job>& past, const Job& job,
                                      const LearningOptions& options = {});

/// What earlier jobs on a rig show of its spins: how they repeat, and what their sensors show beside the orders.
/// @param past the newest first; those with the same sensors count, and not the job `uid`.
void learn_from(const std::vector<Job>& past, const Rig& rig, const std::string& uid, RigKnowledge& knowledge);

/// What the spins of a job say, with what earlier shafts taught where it helps.
struct Analysis {
  std::optional<Solution> solution;  ///< empty while the spins do not suffice
  bool used_prior = false;
  bool own_coefficients = false;  ///< the job's own spins would do without a prior
  std::string why;                ///< one sentence: why there is no solution
  std::string remedy;
  Warnings warnings;  ///< also those of a prior that was dropped because it was contradicted
};
Analysis analyse(const Job& job, const std::optional<FamilyPrior>& prior, const RigKnowledge& rig = {});
/// As the log keeps it; empty if there is no solution.
std::optional<Finding> finding_of(const Analysis& analysis);

/// Root-mean-square of what a correction would leave over the limit, at the place where that is worst.
double predicted_over_limit(const Solution& solution, const Rig& rig, const Shaft& shaft);

enum class StepKind { spin_as_found, spin, spin_again, fit_trial, fit_correction, close, mend, nothing };

/// One instruction.
struct NextStep {
  StepKind kind = StepKind::nothing;
  std::string words;                 ///< short, to be read from the rig: "FIT the trial weight at plane A"
  std::vector<std::string> details;  ///< a line each
  std::vector<FittedWeight> pieces;  ///< what to fit on top of what is on the shaft
  bool cautions = false;             ///< a weight is to be fitted or the shaft to be spun
};
NextStep next_step(const Job& job, const Analysis& analysis, const std::optional<FamilyPrior>& prior);

}  // namespace counterspot
