#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "counterspot/amplitude_only.hpp"
#include "counterspot/solution.hpp"

namespace counterspot {

/// A spin file whose spins give amplitudes alone: as read_spins, with amplitude = { A = "6.0 mm/s ± 0.1 mm/s", … } in
/// place of `recording` or `vector`.
struct AmplitudeSet {
  Rig rig;
  Shaft shaft;
  std::vector<AmplitudeReading> spins;
  Warnings warnings;  ///< no_uncertainty: 2 % of the amplitude was taken
};
/// @throws Error as read_spins.
AmplitudeSet read_amplitude_spins(const std::filesystem::path& path);

/// One answer that the amplitudes allow.
struct AmplitudeAnswer {
  std::vector<FitInstruction> corrections;  ///< one a plane, on top of what the last spin carried
  std::vector<Phasor> residual_kg_m;        ///< one a plane, at the last spin
  Judgement judgement;
};

struct AmplitudeSolution {
  std::vector<AmplitudeAnswer> answers;  ///< the likeliest first
  Limits limits;
  Verdict verdict = Verdict::unsure;  ///< what all answers agree on, else unsure
};

/// @throws Error(request, "too_few_spins"), and as limits_of.
AmplitudeSolution solve_without_phase(const AmplitudeSet& set);

}  // namespace counterspot
