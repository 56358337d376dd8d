#pragma once

#include <optional>
#include <string>

#include "counterspot/tracking/amplitude_track.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "report/json.hpp"

namespace counterspot {

/// How amplitudes are shown: in what motion, and as peak, rms or peak-to-peak.
struct Shown {
  std::optional<Motion> motion;  ///< the sensor's own if empty
  std::string kind = "peak";
  double per_peak = 1.0;
};

/// "" (the sensor's own, peak), "acceleration", "velocity", "velocity-rms", "displacement", "displacement-pp".
Shown shown_as(const std::string& name);

/// One number a person or a program is shown.
struct ShownOrder {
  double order;
  double amplitude, u_amplitude, phase_lag_deg, u_phase_lag_deg;
  double scale;  // shown units per SI unit
  OrderVector view;
};

ShownOrder shown(const OrderVector& vector, const SensorTrack& sensor, const Shown& how, double speed_rad_s);

/// order, amplitude, phase_lag_deg and their standard uncertainties: null where they are not known.
Json json_of(const ShownOrder& order, bool u_known = true);

/// The amplitude of order 1 at one of the rig's sensors, where there is no phase.
ShownOrder shown(const AmplitudeTrack& track, std::size_t sensor, const Shown& how);

/// What one entry of the budget does along and across the vector.
struct ShownBudgetItem {
  double u_amplitude, u_phase_lag_deg;
};

ShownBudgetItem shown(const BudgetItem& item, const ShownOrder& order);

/// What one percent of speed does to the vector.
Phasor per_percent(const OrderVector& view, double speed_rad_s);

}  // namespace counterspot
