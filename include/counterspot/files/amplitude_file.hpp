#pragma once

#include <filesystem>
#include <optional>
#include <vector>

#include "counterspot/influence/amplitude_only.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/model/shaft.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// A spin without phase: amplitudes as somebody read them, or a recording whose tach is of no use.
struct AmplitudeSpin {
  AmplitudeReading reading;           ///< of a recording: its amplitudes are still to be measured
  std::vector<Motion> motions;        ///< of typed amplitudes, one per sensor
  std::filesystem::path recording;    ///< empty if typed
  std::optional<double> speed_rad_s;  ///< as somebody read it
};

/// A spins file whose spins give amplitudes alone: as read_spins, with amplitude = { A = "6.0 mm/s ± 0.1 mm/s", … } in
/// place of `vector`, and with `speed` beside a recording where its spectrum would not tell.
struct AmplitudeSet {
  Rig rig;
  Shaft shaft;
  std::vector<AmplitudeSpin> spins;
  Warnings warnings;  ///< no_uncertainty: 2 % of the amplitude was taken
};
/// @throws Error as read_spins.
AmplitudeSet read_amplitude_spins(const std::filesystem::path& path);

}  // namespace counterspot
