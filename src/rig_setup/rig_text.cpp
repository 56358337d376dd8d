#include <fmt/format.h>

#include <cmath>

#include "counterspot/placement/placement.hpp"
#include "rig_setup/gathered.hpp"

namespace counterspot {

namespace {

constexpr std::string_view any_sensitivity = "1 V/(m/s2)";

/// A line and, behind it in one column, how it was found.
std::string line(const std::string& key_and_value, const std::string& how) {
  return fmt::format("{:<38}# {}\n", key_and_value, how);
}

std::string quoted(const std::string& text) {
  std::string safe;
  for (const char c : text) {
    if (c == '"' || c == '\\') safe += '\\';
    safe += c;
  }
  return '"' + safe + '"';
}

std::string clock_text(double clock_rad) {
  return ClockPosition{static_cast<int>(std::lround(degrees(clock_rad) * 2.0)) % 720}.text();
}

const char* rotation_text(Rotation rotation) {
  return rotation == Rotation::clockwise ? "clockwise" : "counter-clockwise";
}

/// As the samples are, or in volts of the full scale that is stated (1 V where none is).
std::string level_text(double value, const SetupTold& told, bool full_scale) {
  if (!full_scale) return fmt::format("{:.4g}", value);
  const double volts = told.full_scale.empty() ? 1.0 : parse_quantity(told.full_scale, Dimension::voltage);
  return fmt::format("\"{:.4g} V\"", value * volts);
}

std::string full_scale_line(const SetupTold& told) {
  return told.full_scale.empty() ? "" : line("full_scale = " + quoted(told.full_scale), "as typed");
}

std::string sensor_text(std::size_t end, const SetupTold& told, const Gathered& all) {
  const KnockFinding& knocked = all.knocks[end];
  std::string text = "[[sensor]]\n";
  text += fmt::format("name = \"{}\"\n", "AB"[end]);
  text += line(fmt::format("channel = {}", knocked.channel + 1),
               fmt::format("{} knocks on pedestal {}: {}", knocks_asked, "AB"[end], over_others_text(knocked).en));
  const std::string way = knocked.inverted ? "minus: a knock towards the sensor made its signal fall"
                                           : "a knock towards the sensor made its signal rise";
  const std::string& typed = told.sensitivity[end];
  text += line(
      fmt::format("sensitivity = \"{}{}\"", knocked.inverted ? "-" : "", typed.empty() ? any_sensitivity : typed),
      (typed.empty() ? "not known, 1 m/s2 shown is 1 V: correction and verdict do not depend on it; " : "as typed; ") +
          way);
  text += full_scale_line(told);
  if (knocked.high_pass_Hz) {
    text += line(
        fmt::format("ac_coupling = \"{:.3g} Hz\"", knocked.high_pass_Hz->value),
        fmt::format("from the decay after {} knocks, ± {:.2g} Hz", knocks_asked, knocked.high_pass_Hz->plus_minus));
  }
  return text;
}

}  // namespace

Said over_others_text(const KnockFinding& knocked) {
  if (knocked.over_others > 1e3) return said({"no other channel shows them", "kein anderer Kanal zeigt sie"});
  return said({"{:.0f} times those of any other channel", "{:.0f}-mal so groß wie in jedem anderen Kanal"},
              knocked.over_others);
}

Rig rig_of(const SetupTold& told, const Gathered& all) {
  Rig rig;
  rig.name = told.name;
  rig.viewing_end = told.viewing_end;
  // The top goes to the left of who looks along the shaft: it turns against the clock for him.
  const Rotation from_a = told.top_goes == "left" ? Rotation::counter_clockwise : Rotation::clockwise;
  rig.rotation = told.viewing_end == "A" ? from_a : seen_from_other_end(from_a);
  rig.tach.channel = static_cast<int>(all.hand.channel) + 1;
  rig.tach.pulses_per_revolution = all.hand.marks_per_turn;
  rig.tach.edge = all.hand.pulses_fall != all.slow.trailing_edge ? Edge::falling : Edge::rising;
  const double full_scale_V = told.full_scale.empty() ? 1.0 : parse_quantity(told.full_scale, Dimension::voltage);
  if (!told.full_scale.empty()) rig.tach.full_scale_V = full_scale_V;
  if (all.slow.level) {
    rig.tach.level = *all.slow.level * (all.full_scale ? full_scale_V : 1.0);
    rig.tach.hysteresis = *all.slow.hysteresis * (all.full_scale ? full_scale_V : 1.0);
  }
  for (const std::size_t end : {0U, 1U}) {
    Sensor sensor;
    sensor.name = end == 0 ? "A" : "B";
    sensor.channel = static_cast<int>(all.knocks[end].channel) + 1;
    sensor.full_scale_V = full_scale_V;
    const std::string& typed = told.sensitivity[end];
    sensor.sensitivity = parse_sensitivity(typed.empty() ? any_sensitivity : typed);
    if (all.knocks[end].inverted) sensor.sensitivity.volts_per_si *= -1.0;
    if (all.knocks[end].high_pass_Hz) sensor.ac_coupling_Hz = all.knocks[end].high_pass_Hz->value;
    rig.sensors.push_back(sensor);
  }
  return rig;
}

std::string rig_text_of(const SetupTold& told, const Gathered& all, const Rig& rig, const Proof& proof) {
  std::string text = fmt::format(
      "# Found by 'counterspot rig new' and proved at {:.0f} rpm: {} at {:.0f}:00 was found as {:.1f} g at {}.\n"
      "# Smallest residual that the noise of one such spin lets be told: {:.2g} g·mm at A, {:.2g} g·mm at B. What the "
      "rig\n"
      "# really reaches, its qualification shows.\n[rig]\n",
      rpm(proof.speed_rad_s), told.weight, 3.0, 1e3 * proof.found_mass_kg, clock_text(proof.found_clock_rad),
      in_g_mm(proof.smallest_residual_kg_m[0]), in_g_mm(proof.smallest_residual_kg_m[1]));
  text += line("name = " + quoted(rig.name), "as typed");
  text += line(fmt::format("rotation = \"{}\"", rotation_text(rig.rotation)),
               fmt::format("the top goes to the {} of who stands at A; proved by the weight", told.top_goes));
  text +=
      line(fmt::format("viewing_end = \"{}\"", rig.viewing_end), "where the clock is read, as typed; proved likewise");
  text += "[tach]\n";
  text += line(fmt::format("channel = {}", all.hand.channel + 1), "its pulses while the shaft was turned by hand");
  text += line(fmt::format("edge = \"{}\"", rig.tach.edge == Edge::rising ? "rising" : "falling"),
               fmt::format("where the mark {}: {:.0f} us steady there, {:.0f} us where it {}",
                           all.slow.trailing_edge ? "goes" : "comes",
                           1e6 * (all.slow.trailing_edge ? all.slow.trailing_jitter_s : all.slow.leading_jitter_s),
                           1e6 * (all.slow.trailing_edge ? all.slow.leading_jitter_s : all.slow.trailing_jitter_s),
                           all.slow.trailing_edge ? "comes" : "goes"));
  text +=
      line(fmt::format("pulses_per_revolution = {}", all.hand.marks_per_turn),
           fmt::format("{} pulses in {} turns by hand", all.hand.marks_per_turn * hand_turns_asked, hand_turns_asked));
  if (all.slow.level) {
    text += line("level = " + level_text(*all.slow.level, told, all.full_scale), "half way between mark and shaft");
    text += line("hysteresis = " + level_text(*all.slow.hysteresis, told, all.full_scale), "0.4 of the way");
  } else {
    text += "# no level: the input does not hold it, and it is found in each recording\n";
  }
  text += full_scale_line(told);
  for (const std::size_t end : {0U, 1U}) text += sensor_text(end, told, all);
  if (all.knocks[0].natural_frequency_Hz && all.knocks[1].natural_frequency_Hz) {
    for (const std::size_t end : {0U, 1U}) {
      const Spread& f = *all.knocks[end].natural_frequency_Hz;
      text += fmt::format("[pedestal.{}]\n", "AB"[end]);
      text += line(
          fmt::format("natural_frequency = \"{:.4g} Hz ± {:.2g} Hz\"", f.value, std::max(f.plus_minus, 0.02 * f.value)),
          fmt::format("{} knocks with no shaft on{}", knocks_asked,
                      all.knocks[end].damping
                          ? fmt::format("; damping {:.1f} %", 100.0 * all.knocks[end].damping->value)
                          : ""));
    }
  }
  return text;
}

}  // namespace counterspot
