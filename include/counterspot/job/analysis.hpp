#pragma once

#include <optional>
#include <string>

#include "counterspot/job/job.hpp"
#include "counterspot/job/stated.hpp"
#include "counterspot/learning/learning.hpp"

namespace counterspot {

/// What the spins of a job say, with what earlier shafts taught where it helps.
struct Analysis {
  std::optional<Solution> solution;  ///< empty while the spins do not suffice
  bool used_prior = false;
  int rig_taught_by = 0;          ///< as in Finding
  int brought_in = 0;             ///< as in Finding
  bool own_coefficients = false;  ///< the job's own spins would do without a prior
  SolveOptions solved_with;       ///< how `solution` was found, with the prior as it was used
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

}  // namespace counterspot
