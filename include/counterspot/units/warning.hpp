#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace counterspot {

/// Everything the library can notice and let pass: a closed list, in the order of the flow. `warning_code` gives the
/// snake_case code that stands in the JSON; src/manual/analyst.md says what each means and what to do. Some of them
/// speak against the readings that a verdict rests on, and hold it back (`holds_back`).
enum class WarningCode {
  // recording
  clipped,        ///< samples at the end of the converter's range
  flattened,      ///< the tops of the signal are cut off turn after turn
  quiet_channel,  ///< hardly more than the converter's own noise, or nothing but mains hum
  dead_channel,   ///< no signal at all
  uneven_time,    ///< the times waver; the samples are read at them
  short_data,     ///< a little less data than the header announces
  overrun,        ///< samples of a live source were lost; what was recorded has gaps
  // tach
  lost_pulses,        ///< gaps bridged
  double_pulses,      ///< extra edges dropped
  tach_jitter,        ///< edge timing is rough
  weak_tach,          ///< pulse height near the noise
  tach_lost,          ///< the tach's pulses stopped, or were gone for several turns
  tach_changed,       ///< its pulses changed in height or level while the spin was recorded
  direction_unknown,  ///< the encoder does not tell which way the shaft turned
  speed_doubted,      ///< the sensors, the shaft or the drive speak for another speed than the tach shows
  // tracking
  speed_drift,       ///< speed changed during the spin
  few_revolutions,   ///< a short spin
  order_2_dominant,  ///< joints and phasing, not unbalance
  order_2_unjudged,  ///< how large order 2 is cannot be said: a sensor's sensitivity is not known
  steady_part,       ///< only a part of the recording was steady and used
  interference,      ///< a steady line near an order, fitted along
  knocks,            ///< something struck during the spin; those turns count for less
  beating,           ///< a neighbour so near the order that the spin hardly tells them apart
  loose_cable,       ///< the signal steps
  near_resonance,    ///< the vector changes fast with speed
  moving_level,      ///< the sensor's rest level moves; a trend was fitted along
  other_order,       ///< something turns with the shaft at an order that is no whole number
  orders_lowered,    ///< a spectrum ends below the highest order asked for: the sample rate holds no more
  coarse_steps,      ///< the converter's step is large beside the reading of the limit
  // several spins
  swapped_sensors,    ///< two sensors seem to have changed places
  inverted_polarity,  ///< a sensor is upside down against an earlier spin
  wrong_sensitivity,  ///< a sensor reads about ten times more or less than it did
  sensor_changed,     ///< a sensor's broadband level or spectrum is not that of the other spins
  reading_moved,      ///< the reading moved, and no change of weights was stated
  unlike_asked,       ///< what was fitted is far from what was asked for
  // influence
  no_uncertainty,   ///< vectors typed without an uncertainty
  speeds_differ,    ///< spins brought to one speed
  ill_conditioned,  ///< planes or trial weights hardly told apart
  weak_trial,       ///< a trial weight that changed little
  plane_left_out,   ///< a plane that the others can stand in for has no part in the answer
  spins_disagree,   ///< the spins contradict one another beyond their uncertainty
  out_of_band,      ///< this shaft's coefficients are not like those of its family: the rig or the shaft has changed
  scatter_assumed,  ///< how far spins repeat is not known of this rig: a typical value stands in the uncertainty
  // tolerance
  qualification_due,     ///< the rig has not been proved for too long, or failed
  qualification_failed,  ///< the rig did not reach what it claims when it was last proved
  flexible_shaft,        ///< near its bending mode, and not balanced for it
  mode_unseen,           ///< the spins were too slow to show what a mode makes at service speed
  limit_missing,         ///< limits are typed, and a plane has none
  share_bounded,         ///< a share kept within 0.3 and 0.7
};

std::string warning_code(WarningCode code);
/// Empty for a code that this program does not know: a log may hold those of other versions.
std::optional<WarningCode> warning_code_named(std::string_view name);

/// What asks something of the person is a warning; what only explains the answer is a note. The rule is that of alarm
/// management (ISA-18.2 and EEMUA 191, both from memory): an alarm is what demands a response, each has one defined
/// response, and what demands none is not raised as one, or people stop reading.
enum class Severity {
  holds_back,  ///< speaks against the readings themselves: with it no verdict is `within`
  warning,     ///< the answer stands, with what is said counted in it; something is to be done
  note,        ///< counted in the uncertainty, or changes nothing; nothing is to be done now
};

Severity severity_of(WarningCode code);
/// "holds_back", "warning" or "note", as in the JSON.
std::string_view severity_name(Severity severity);
bool holds_back(WarningCode code);

/// One sentence: what to do about it.
std::string_view remedy_of(WarningCode code);

struct Warning {
  WarningCode code{};
  std::optional<std::string> sensor;      ///< the sensor's name, or "tach", or empty
  std::string message;                    ///< one sentence, what was noticed
  std::vector<std::string> spins = {};    ///< once gathered: the labels of the spins it holds for; empty: of all
  std::vector<std::string> sensors = {};  ///< once gathered: the sensors it holds for
  std::string remedy = {};                ///< if it is another than `remedy_of(code)`

  std::string what_to_do() const { return remedy.empty() ? std::string(remedy_of(code)) : remedy; }
};

using Warnings = std::vector<Warning>;

/// The one, or all of those gathered.
std::vector<std::string> sensors_named(const Warning& warning);

/// What is said once, however many sensors, spins and lines it holds for: one entry for a code, the gravest first,
/// those alike in order of first mention. Sentences that differ only in their figures are one with all the figures
/// ("steady lines at 24.2 and 50.0 Hz were fitted along"); of others the first three are said, and how many more there
/// are. All commands, the page and the sheet say what they have to say by this.
Warnings gathered(const Warnings& warnings);

/// The figures of a message with their units, "24.2 and 50.0 Hz": what another language takes from an English sentence.
std::vector<std::string> figures_in(std::string_view message);

/// Whether it holds for all of two spins or more.
bool holds_for_all(const Warning& warning, const std::vector<std::string>& spins);

/// "spins 'as found', 'trial at A': …": the message with the spins it holds for.
std::string sentence_of(const Warning& warning);

/// What is said beside a verdict: those that hold it back, or those that do not.
Warnings holding(const Warnings& warnings);
Warnings not_holding(const Warnings& warnings);

}  // namespace counterspot
