#pragma once

#include <optional>
#include <vector>

#include "counterspot/files/amplitude_file.hpp"
#include "counterspot/solve/solution.hpp"

namespace counterspot {

/// One answer that the amplitudes allow.
struct AmplitudeAnswer {
  std::vector<FitInstruction> corrections;       ///< one per plane, on top of what the last spin carried
  std::vector<FitInstruction> corrections_bare;  ///< the same once all of that is off
  std::vector<Phasor> residual_kg_m;             ///< one per plane, at the last spin
  Judgement judgement;
};

struct AmplitudeSolution {
  std::vector<AmplitudeAnswer> answers;  ///< the likeliest first
  Limits limits;
  Verdict verdict = Verdict::unsure;                ///< what all answers agree on, else unsure
  std::vector<std::optional<double>> speeds_rad_s;  ///< one per spin: as measured, else as stated
  Warnings held_back;                               ///< what speaks against the readings; then never within
  Warnings warnings;                                ///< of the recordings, gathered; not what `held_back` says
};

/// Spins at slightly different speeds are brought to the last one's by |Z| ~ Ω^n.
/// @throws Error(request, …) "too_few_spins", "mixed_motion", "speeds_differ", and as limits_of; as track_amplitudes.
AmplitudeSolution solve_without_phase(const AmplitudeSet& set, double speed_tolerance = 0.01);

}  // namespace counterspot
