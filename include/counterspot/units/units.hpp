#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "counterspot/units/angle.hpp"

namespace counterspot {

/// What a typed quantity measures. The value returned is in the SI unit named beside it.
enum class Dimension {
  mass,          ///< kg      "12 g", "14.6 kg", "0.4 oz", "3 lb"
  length,        ///< m       "39 mm", "58.25 in", "0.1 um", "2 mil", "1.5 ft"
  angle,         ///< rad     "138.4 deg", "1.2 rad"
  speed,         ///< rad/s   "3200 rpm", "53.3 Hz" (turns a second), "335 rad/s"
  frequency,     ///< Hz      "51.2 kHz", "50 Hz"
  time,          ///< s       "3 s", "20 ms", "2 min", "1 h"
  unbalance,     ///< kg·m    "40 g·mm", "0.4 oz-in", "2 kg mm"
  acceleration,  ///< m/s²    "9.81 m/s2", "1 g", "20 in/s2"
  velocity,      ///< m/s     "6 mm/s", "0.2 in/s"
  voltage,       ///< V       "10 V", "100 mV"
  force,         ///< N       "250 N", "50 lbf"
  density,       ///< kg/m³   "7850 kg/m3", "7.85 g/cm3"
  linear_mass,   ///< kg/m    "3.2 g/mm", "1 oz/in"
  stiffness,     ///< N/m     "2e6 N/m", "2 kN/mm"
  pressure,      ///< Pa      "206.8 GPa"
  fraction,      ///< 1       "2 %", "0.02"; the only dimension whose bare numbers are taken
};

/// Reads "number unit" and gives the value in SI. Spellings are ASCII or Unicode (`g·mm`, `g-mm`, `g.mm`, `g mm`;
/// `um`, `µm`; `m/s2`, `m/s²`; `in`, `"`), a decimal point or comma, spaces anywhere between the parts.
/// @throws Error(request, "bad_quantity") for a bare number, an unknown unit, a unit of another dimension, a value that
/// is
///         not finite; the message names the text and the remedy the units that are taken.
double parse_quantity(std::string_view text, Dimension dimension);

/// The kind of motion a sensor measures. Of a sensor whose sensitivity nobody knows the volts are all that is known:
/// what needs ratios alone (correction, residual, verdict) does not ask for more.
enum class Motion { acceleration, velocity, displacement, unscaled };

/// "acceleration", "velocity", "displacement", "voltage".
std::string_view motion_name(Motion motion);

/// What a reading is taken for where it matters how it grows with speed: itself, and without a sensitivity an
/// acceleration, the usual sensor of such rigs (common practice, no source).
constexpr Motion taken_for(Motion motion) {
  return motion == Motion::unscaled ? Motion::acceleration : motion;
}

/// How many volts a sensor gives for one SI unit of its motion (m/s², m/s or m).
struct Sensitivity {
  Motion motion = Motion::acceleration;
  /// V/(m/s²), V/(m/s) or V/m; not 0; below it the sensor is turned over. 1 or −1 if it is not known.
  double volts_per_si = 1.0;
};

/// Reads "100 mV/g", "10.2 mV/(m/s2)", "20 mV/(mm/s)", "8 mV/um"; "unknown", or "-unknown" of a sensor turned over.
/// @throws Error(request, "bad_quantity").
Sensitivity parse_sensitivity(std::string_view text);

/// A unit of motion alone, as in a CSV header "accel (g)": the kind and how many SI units one of it is. Empty if not
/// one.
struct MotionUnit {
  Motion motion = Motion::acceleration;
  double si_per_unit = 1.0;
};
std::optional<MotionUnit> find_motion_unit(std::string_view unit);

/// How many volts one `unit` is ("V", "mV"), or empty if it is no unit of voltage.
std::optional<double> find_voltage_unit(std::string_view unit);

/// A vibration vector typed by hand.
struct TypedVector {
  Motion motion = Motion::velocity;
  Phasor value;                                ///< SI, peak, phase lag as its direction
  std::optional<double> standard_uncertainty;  ///< SI, of each of the two parts; empty if not given
};

/// Reads "6.0 mm/s @ 35 deg", with an optional "± 0.1 mm/s" (or "+- 0.1 mm/s"); of a sensor without a known
/// sensitivity in V or mV.
/// @throws Error(request, "bad_vector").
TypedVector parse_vector(std::string_view text);

/// Units in which all that shows levels shows them: "m/s2", "mm/s", "um", "V", and how many SI units one of them is (1,
/// 1e-3, 1e-6, 1).
std::string_view display_unit(Motion motion);
double si_per_display_unit(Motion motion);

inline constexpr double kg_m_per_g_mm = 1e-6;                                  ///< 1 g·mm in kg·m
inline constexpr double standard_gravity_m_s2 = 9.80665;                       ///< NIST SP 811, exact
inline constexpr double kg_per_oz = 0.45359237 / 16.0;                         ///< NIST SP 811, exact
inline constexpr double m_per_in = 0.0254;                                     ///< NIST SP 811, exact
inline constexpr double newtons_per_lbf = 0.45359237 * standard_gravity_m_s2;  ///< NIST SP 811, exact

/// Unbalance as people are shown it: g·mm and oz·in.
constexpr double in_g_mm(double unbalance_kg_m) {
  return unbalance_kg_m / kg_m_per_g_mm;
}
constexpr double in_oz_in(double unbalance_kg_m) {
  return unbalance_kg_m / (kg_per_oz * m_per_in);
}

}  // namespace counterspot
