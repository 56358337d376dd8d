#pragma once

#include <array>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// A channel of a recording: its 1-based number, or its name: a CSV column's with or without its unit.
using ChannelRef = std::variant<int, std::string>;

enum class Rotation { clockwise, counter_clockwise };
/// "clockwise", "counter-clockwise": as files say it.
constexpr const char* rotation_name(Rotation rotation) {
  return rotation == Rotation::clockwise ? "clockwise" : "counter-clockwise";
}

/// The direction a shaft turns as seen from its other end.
constexpr Rotation seen_from_other_end(Rotation rotation) {
  return rotation == Rotation::clockwise ? Rotation::counter_clockwise : Rotation::clockwise;
}

enum class Edge { rising, falling };

/// Two channels of an encoder, a quarter of a pulse apart.
struct EncoderPair {
  ChannelRef a;
  ChannelRef b;
  Rotation a_leads = Rotation::clockwise;  ///< how it turns, seen from the viewing end, when A comes before B
  int pulses_per_revolution = 1;           ///< of A
};

struct TachSetup {
  std::optional<ChannelRef> channel;  ///< where the tach signal is, of an encoder the index if there is one; or else
  std::string times_file;  ///< edge times in seconds: a CSV (column `time_s`, or the first) or an array; path as opened
  std::string times_mark;  ///< only the rows whose `mark` column says this count as pulses; empty: all rows
  int pulses_per_revolution = 1;  ///< ≥ 1
  Edge edge = Edge::rising;
  std::optional<double> level;         ///< V with full_scale_V (CSV: the column's units); else found from the signal
  std::optional<double> hysteresis;    ///< full width, same unit as level
  std::optional<double> full_scale_V;  ///< what 1.0 in a WAV file means; 1 if absent
  std::optional<EncoderPair> encoder;  ///< tells the direction, and nothing else
  /// In place of all that: a channel whose value is the speed. It gives no angle, so no phase.
  std::optional<ChannelRef> speed_channel;
  std::optional<double> speed_scale_rad_s;  ///< what 1 V of it means, or 1 of a column that states no unit
};

struct Sensor {
  std::string name;
  ChannelRef channel = 1;
  Sensitivity sensitivity;
  double full_scale_V = 1.0;  ///< what 1.0 in a WAV file means; not used for CSV
  std::optional<double> ac_coupling_Hz =
      {};  ///< corner of a first-order high-pass between sensor and converter; corrected for
  double ac_coupling_uncertainty = 0.1;   ///< standard uncertainty of the corner, as a fraction of it
  double mounting_uncertainty_rad = 0.0;  ///< standard uncertainty of the direction it looks in, about the shaft
};

/// One standard deviation of what 'fitted' states, against what is really on the shaft.
struct SettingUncertainty {
  double mass_fraction = 0.01;      ///< of the mass stated
  double angle_rad = radians(1.0);  ///< of the position stated
  /// Of how far the shaft is said to be turned against its adapters: bolt holes with their play (common practice, no
  /// source).
  double turned_rad = radians(0.5);
  /// From spin to spin with nothing changed, beyond the recordings' noise, as a part of the reading, where the rig's
  /// own repeats do not tell (common practice, no source).
  double repeat_fraction = 0.005;
};

/// What a rig is said to reach, and how often that is proved.
struct RigClaims {
  double umar_kg_m = 0.0;       ///< smallest achievable residual unbalance in each plane, > 0
  double reduction = 0.95;      ///< unbalance reduction ratio
  double sensor_change = 0.10;  ///< of a sensor's size, and in rad of its phase, since the record
  double cross_talk = 0.05;     ///< of one sensor in the other, since the record
  /// Of a test mass's reading at 10 % less and more speed, beside |Z| ~ Ω^n with n from soft to stiff pedestals. A
  /// tenth: where it is one power of the speed, a reading brought to another speed is off by its whole ± (k = 2).
  double speed_effect = 0.10;
  double adapters_over_umar = 5.0;   ///< what the adapters may be out of balance by
  double every_s = 365.0 * 86400.0;  ///< from one qualification to the next; a year is common practice, no source
};

/// A size with its standard uncertainty, both in the unit its name says.
struct KnownSize {
  double value = 0.0;  ///< > 0
  double u = 0.0;      ///< > 0, < value
};

/// What the owner knows of a pedestal.
struct KnownPedestal {
  std::optional<KnownSize> moving_mass_kg;        ///< what moves along with the shaft's support
  std::optional<KnownSize> natural_frequency_Hz;  ///< with no shaft on it, as a tap on it shows
};

/// What a rig file says of how its recordings are written, where a recording does not tell or tells it wrong. All of it
/// may be left out: it is then found out from each recording.
struct StatedFormat {
  std::optional<char> separator;                           ///< between the cells of a table; ' ': any blanks
  std::optional<char> decimal;                             ///< '.' or ','
  std::string encoding;                                    ///< of a text, as iconv names it
  std::optional<int> first_row;                            ///< no row of a table stands above this line, from 1
  std::optional<std::string> time;                         ///< the column of times; "none": there is none
  std::string time_unit;                                   ///< of that column
  std::vector<std::pair<std::string, std::string>> units;  ///< by column, instead of what its header says; "V": volts
};

struct Rig {
  std::string name;
  Rotation rotation = Rotation::counter_clockwise;  ///< as seen from the viewing end
  std::string viewing_end = "A";
  TachSetup tach;
  std::vector<Sensor> sensors;
  std::optional<double> sample_rate_Hz;  ///< for CSV without a time column
  bool sample_rate_holds = false;        ///< of any recording: one with another rate of its own is refused
  StatedFormat format;
  SettingUncertainty setting;
  std::optional<RigClaims> claims;              ///< needed to qualify it
  std::array<KnownPedestal, 2> pedestals = {};  ///< at A and at B
};

}  // namespace counterspot
