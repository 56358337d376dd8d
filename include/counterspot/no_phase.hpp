#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/amplitude_only.hpp"
#include "counterspot/solution.hpp"

namespace counterspot {

/// A spin of such a file: amplitudes as somebody read them, or a recording whose tach is of no use.
struct AmplitudeSpin {
  AmplitudeReading reading;           ///< of a recording: its amplitudes are still to be measured
  std::vector<Motion> motions;        ///< of typed amplitudes, one a sensor
  std::filesystem::path recording;    ///< empty if typed
  std::optional<double> speed_rad_s;  ///< as somebody read it
};

/// A spin file whose spins give amplitudes alone: as read_spins, with amplitude = { A = "6.0 mm/s ± 0.1 mm/s", … } in
/// place of `vector`, and with `speed` beside a recording where its spectrum would not tell.
struct AmplitudeSet {
  Rig rig;
  Shaft shaft;
  std::vector<AmplitudeSpin> spins;
  Warnings warnings;  ///< no_uncertainty: 2 % of the amplitude was taken
};
/// @throws Error as read_spins.
AmplitudeSet read_amplitude_spins(const std::filesystem::path& path);

/// One answer that the amplitudes allow.
struct AmplitudeAnswer {
  std::vector<FitInstruction> corrections;       ///< one a plane, on top of what the last spin carried
  std::vector<FitInstruction> corrections_bare;  ///< the same once all of that is off
  std::vector<Phasor> residual_kg_m;             ///< one a plane, at the last spin
  Judgement judgement;
};

struct AmplitudeSolution {
  std::vector<AmplitudeAnswer> answers;  ///< the likeliest first
  Limits limits;
  Verdict verdict = Verdict::unsure;                ///< what all answers agree on, else unsure
  std::vector<std::optional<double>> speeds_rad_s;  ///< one a spin: as measured, else as stated
  Warnings held_back;                               ///< what speaks against the readings; then never within
  Warnings warnings;                                ///< of the recordings, gathered; not what `held_back` says
};

/// Spins at slightly different speeds are brought to the last one's by |Z| ~ Ω^n.
/// @throws Error(request, …) "too_few_spins", "mixed_motion", "speeds_differ", and as limits_of; as track_amplitudes.
AmplitudeSolution solve_without_phase(const AmplitudeSet& set, double speed_tolerance = 0.01);

}  // namespace counterspot
