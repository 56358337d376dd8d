#pragma once

#include <optional>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/units/units.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// A steady spin without a tach, perhaps with a signal of the speed: how large order 1 is at every sensor, not in which
/// direction.
struct AmplitudeTrack {
  double speed_rad_s = 0.0;
  bool speed_found = false;  ///< from the highest line of the spectrum alone, nobody having said it
  double duration_s = 0.0;
  std::vector<Motion> motions;       ///< one per sensor
  std::vector<double> amplitudes;    ///< SI, peak
  std::vector<double> u_amplitudes;  ///< standard, from how the stretches of the spin differ; > 0
  std::vector<double> changes;       ///< how far each amplitude moved in the spin, over its mean
  Warnings warnings;                 ///< speed_drift
};

/// The line of order 1 is the highest in velocity over all sensors, of the Hann-windowed spectrum, between 150 and
/// 12000 rpm, or within 10 % of the speed stated. Then, stretch by stretch of at least a second and 12 turns, the
/// frequency at which least squares on cosine and sine (and order 2, a mean and a slope) leave least, and the amplitude
/// there; so a speed that drifts a little costs nothing. At most the first minute is used.
/// With a signal of the speed (`speed_channel`), order 1 is looked for within 1.5 % of where it says, along the turns
/// that it adds up to, so that a speed that changes costs nothing either. If no line stands out there and one does
/// within 10 %, the recording is refused; if none does anywhere, the signal is trusted.
/// @param about_rad_s the speed as somebody read it, if there is no signal. Pulses of a tach are not looked at.
/// @throws Error(recording, …) "no_line" (no line stands out of the noise, tenfold in amplitude), "too_short_for_order"
/// (fewer than 20 turns), "not_finite", and what Recording::read throws; Error(request, …) as `track`. Of a signal of
/// the speed also Error(request, …) "missing_key", "wrong_unit" and Error(recording, …) "impossible_speed",
/// "speed_doubted".
AmplitudeTrack track_amplitudes(Recording& recording, const Rig& rig, std::optional<double> about_rad_s = {});

}  // namespace counterspot
