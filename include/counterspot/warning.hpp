#pragma once

#include <optional>
#include <string>
#include <vector>

namespace counterspot {

/// Every warning the library can give: a closed list, in the order of the flow. `warning_code` gives the snake_case
/// code that stands in the JSON; DEVELOPERS.md says what each means and what to do.
enum class WarningCode {
  // recording
  clipped,       ///< samples at the end of the converter's range
  dead_channel,  ///< no signal at all
  uneven_time,   ///< the time column wavers, within what is allowed
  short_data,    ///< a little less data than the header announces
  overrun,       ///< samples of a live source were lost; what was recorded has gaps
  // tach
  lost_pulses,    ///< gaps bridged
  double_pulses,  ///< extra edges dropped
  tach_jitter,    ///< edge timing is rough
  weak_tach,      ///< pulse height near the noise
  // tracking
  speed_drift,       ///< speed changed during the spin
  few_revolutions,   ///< a short spin
  order_2_dominant,  ///< joints and phasing, not unbalance
  steady_part,       ///< only a part of the recording was steady and used
  interference,      ///< a steady line near an order, fitted along
  knocks,            ///< something struck during the spin; those turns count for less
  beating,           ///< a neighbour so near the order that the spin hardly tells them apart
  loose_cable,       ///< the signal steps
  near_resonance,    ///< the vector changes fast with speed
  // several spins
  swapped_sensors,    ///< two sensors seem to have changed places
  inverted_polarity,  ///< a sensor is upside down against an earlier spin
  wrong_sensitivity,  ///< a sensor reads about ten times more or less than it did
  // influence
  no_uncertainty,   ///< vectors typed without an uncertainty
  speeds_differ,    ///< spins brought to one speed
  ill_conditioned,  ///< planes or trial weights hardly told apart
  weak_trial,       ///< a trial weight that changed little
  plane_left_out,   ///< a plane that the others can stand in for has no part in the answer
  spins_disagree,   ///< the spins contradict one another beyond their uncertainty
  out_of_band,      ///< this shaft's coefficients are not like those of its family: the rig or the shaft has changed
  // tolerance
  qualification_due,  ///< the rig has not been proved for too long, or failed
  flexible_shaft,     ///< near its bending mode, and not balanced for it
  share_bounded,      ///< a share kept within 0.3 and 0.7
};

std::string warning_code(WarningCode code);

struct Warning {
  WarningCode code{};
  std::optional<std::string> sensor;  ///< the sensor's name, or "tach", or empty
  std::string message;                ///< one sentence, what and what to do
};

using Warnings = std::vector<Warning>;

}  // namespace counterspot
