#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

struct NextStep;

/// What the operator states, held against what the sensors read and against what was asked for.

/// A piece whose mass is not known to the program counts as a slip of the unit above this share of the shaft's mass
/// (common practice, no source).
inline constexpr double heaviest_share_of_shaft = 0.05;

/// Spins between which no change of weights was stated, of which the later ones read otherwise than the first.
struct MovedReading {
  int first = 0;           ///< entry of the first spin
  std::vector<int> spins;  ///< entries of those that read otherwise
  std::string sensor;      ///< that moved most
  double share = 0.0;      ///< how far, of what it read first
};

/// Every one in the job that nobody has answered for. Spins count together from one statement of what is on the shaft
/// to the next, as far as they have one speed (within 2 %) and one place on the adapters; a reading has moved if it
/// differs by more than three standard deviations of both readings' uncertainty and the usual change, 4 % of the
/// largest that the sensor read in the job (common practice, no source). To state once more what was stated before is
/// an answer: nothing was changed.
std::vector<MovedReading> moved_readings(const Job& job);
/// As a sentence, with code reading_moved.
Warning warning_of(const MovedReading& moved, const Job& job);

/// A trial weight was stated, and no sensor read otherwise than before beyond noise (or 2 % of the reading): code
/// weak_trial.
std::optional<Warning> nothing_moved(const Job& job);

/// Whether this is worth fitting as a correction: from the job's own spins, or, of what earlier shafts taught, if it is
/// expected to leave no more than the limits.
bool gives_correction(const Finding& finding);

/// The trial weights that the last spin carried: what was fitted before the job gave a correction worth fitting.
std::vector<FittedWeight> trial_weights_of(const Job& job);

/// What is far from what was asked for, in one sentence with code unlike_asked: another plane, a mass outside half to
/// twice, metal taken away instead of added, a correction more than 60 deg off (further round, it adds to the
/// unbalance), nothing at a plane where something was asked for, weights for the bare shaft while the trial weights are
/// stated to be on. What differs by less than a twentieth of the plane's limit is alike. Where nothing is asked for,
/// only a piece heavier than `heaviest_share_of_shaft` is unlike.
/// @param before, after all that is on the shaft, before and as it is stated now.
std::optional<Warning> unlike_asked(const NextStep& asked, const std::vector<FittedWeight>& before,
                                    const std::vector<FittedWeight>& after, const Rig& rig, const Shaft& shaft);

}  // namespace counterspot
