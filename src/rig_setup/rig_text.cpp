#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/placement/placement.hpp"
#include "files/toml_text.hpp"
#include "rig_setup/gathered.hpp"

namespace counterspot {

namespace {

/// A file's text as it grows, its comments in both languages.
class Lines {
 public:
  /// A line and, behind it in one column, how it was found.
  void add(const std::string& key_and_value, const Said& how) {
    all_.en += fmt::format("{:<38}# {}\n", key_and_value, how.en);
    all_.de += fmt::format("{:<38}# {}\n", key_and_value, how.de);
  }
  void add(const std::string& line) { add_text({line + "\n", line + "\n"}); }
  void add_text(const Said& text) {
    all_.en += text.en;
    all_.de += text.de;
  }
  const Said& all() const { return all_; }

 private:
  Said all_;
};

Said as_typed() {
  return said({"as typed", "wie eingegeben"});
}

std::string clock_text(double clock_rad) {
  return ClockPosition{static_cast<int>(std::lround(degrees(clock_rad) * 2.0)) % 720}.text();
}

double full_scale_V(const SetupTold& told) {
  return told.full_scale.empty() ? 1.0 : parse_quantity(told.full_scale, Dimension::voltage);
}

/// As the samples are, or in volts of the full scale that is stated (1 V where none is).
std::string level_text(double value, const SetupTold& told, bool full_scale) {
  if (!full_scale) return fmt::format("{:.4g}", value);
  return fmt::format("\"{:.4g} V\"", value * full_scale_V(told));
}

void add_full_scale(Lines& lines, const SetupTold& told) {
  if (!told.full_scale.empty()) lines.add("full_scale = " + toml_text(told.full_scale), as_typed());
}

/// As typed, as the shaker shows, or unknown.
std::string sensitivity_of(std::size_t end, const SetupTold& told, const Gathered& all) {
  if (!told.sensitivity[end].empty()) return told.sensitivity[end];
  if (!all.shaker[end]) return "unknown";
  return fmt::format("{:.4g} mV/(m/s2)", 1e3 * volts_per_si_on_shaker(*all.shaker[end], all.knocks[end], told,
                                                                      all.full_scale, Motion::acceleration));
}

Said how_sensitive(std::size_t end, const SetupTold& told, const Gathered& all) {
  const Said way = all.knocks[end].inverted ? said({"minus: a knock towards the sensor made its signal fall",
                                                    "Minus: ein Schlag auf den Aufnehmer zu ließ sein Signal fallen"})
                                            : said({"a knock towards the sensor made its signal rise",
                                                    "ein Schlag auf den Aufnehmer zu ließ sein Signal steigen"});
  if (!told.sensitivity[end].empty()) return said({"as typed; {}", "wie eingegeben; {}"}, way);
  if (all.shaker[end])
    return said({"on a shaker of 10 m/s2 rms at {:.1f} Hz, ± {:.1f} %; {}",
                 "auf einem Schwinger mit 10 m/s2 effektiv bei {:.1f} Hz, ± {:.1f} %; {}"},
                all.shaker[end]->frequency_Hz, percent_on_shaker(*all.shaker[end]), way);
  const Said taken = all.full_scale && told.full_scale.empty()
                         ? said({", full scale taken as 1 V", ", Aussteuerungsgrenze als 1 V genommen"})
                         : Said{};
  return said({"levels are in volts{}: correction and verdict do not depend on it; {}",
               "Pegel sind in Volt{}: Ausgleich und Bewertung hängen nicht davon ab; {}"},
              taken, way);
}

void add_sensor(Lines& lines, std::size_t end, const SetupTold& told, const Gathered& all) {
  const KnockFinding& knocked = all.knocks[end];
  lines.add("[[sensor]]");
  lines.add(fmt::format("name = \"{}\"", "AB"[end]));
  lines.add(fmt::format("channel = {}", knocked.channel + 1),
            said({"{} knocks on pedestal {}: {}", "{} Schläge auf Lagerbock {}: {}"}, knocks_asked, "AB"[end],
                 over_others_text(knocked)));
  lines.add(fmt::format("sensitivity = \"{}{}\"", knocked.inverted ? "-" : "", sensitivity_of(end, told, all)),
            how_sensitive(end, told, all));
  add_full_scale(lines, told);
  if (knocked.high_pass_Hz) {
    lines.add(fmt::format("ac_coupling = \"{:.3g} Hz\"", knocked.high_pass_Hz->value),
              said({"from the decay after {} knocks, ± {:.2g} Hz", "aus dem Abklingen nach {} Schlägen, ± {:.2g} Hz"},
                   knocks_asked, knocked.high_pass_Hz->plus_minus));
  }
}

/// Which edge of the mark is taken, and why.
Said how_edge(const SlowRunFinding& slow) {
  const double here_us = 1e6 * (slow.trailing_edge ? slow.trailing_jitter_s : slow.leading_jitter_s);
  const double there_us = 1e6 * (slow.trailing_edge ? slow.leading_jitter_s : slow.trailing_jitter_s);
  const Said comes = said({"comes", "kommt"});
  const Said goes = said({"goes", "geht"});
  return said({"where the mark {}: {:.0f} us steady there, {:.0f} us where it {}",
               "wo die Marke {}: dort auf {:.0f} us gleichmäßig, auf {:.0f} us, wo sie {}"},
              slow.trailing_edge ? goes : comes, here_us, there_us, slow.trailing_edge ? comes : goes);
}

void add_rig(Lines& lines, const SetupTold& told, const Rig& rig) {
  lines.add("[rig]");
  lines.add("name = " + toml_text(rig.name), as_typed());
  const Said side = told.top_goes == "left" ? said({"left", "links"}) : said({"right", "rechts"});
  lines.add(fmt::format("rotation = \"{}\"", rotation_name(rig.rotation)),
            said({"the top goes to the {} of who stands at A; proved by the weight",
                  "oben geht nach {} für den, der an A steht; durch das Gewicht bewiesen"},
                 side));
  lines.add(fmt::format("viewing_end = \"{}\"", rig.viewing_end),
            said({"where the clock is read, as typed; proved likewise",
                  "wo die Uhr abgelesen wird, wie eingegeben; ebenso bewiesen"}));
}

void add_tach(Lines& lines, const SetupTold& told, const Gathered& all, const Rig& rig) {
  lines.add("[tach]");
  lines.add(fmt::format("channel = {}", all.hand.channel + 1),
            said({"its pulses while the shaft was turned by hand", "seine Impulse beim Drehen der Welle von Hand"}));
  lines.add(fmt::format("edge = \"{}\"", rig.tach.edge == Edge::rising ? "rising" : "falling"), how_edge(all.slow));
  lines.add(fmt::format("pulses_per_revolution = {}", all.hand.marks_per_turn),
            said({"{} pulses in {} turns by hand", "{} Impulse in {} Umdrehungen von Hand"},
                 all.hand.marks_per_turn * hand_turns_asked, hand_turns_asked));
  if (all.slow.level) {
    lines.add("level = " + level_text(*all.slow.level, told, all.full_scale),
              said({"half way between mark and shaft", "in der Mitte zwischen Marke und Welle"}));
    lines.add("hysteresis = " + level_text(*all.slow.hysteresis, told, all.full_scale),
              said({"0.4 of the way", "0,4 dieses Wegs"}));
  } else {
    lines.add_text({"# no level: the input does not hold it, and it is found in each recording\n",
                    "# keine Schwelle: der Eingang hält den Pegel nicht, sie wird in jeder Aufnahme gefunden\n"});
  }
  add_full_scale(lines, told);
}

void add_pedestal(Lines& lines, std::size_t end, const KnockFinding& knocked) {
  const Spread f = *stated_natural_Hz(knocked);
  const Said damping =
      knocked.damping ? said({"; damping {:.1f} %", "; Dämpfung {:.1f} %"}, 100.0 * knocked.damping->value) : Said{};
  lines.add(fmt::format("[pedestal.{}]", "AB"[end]));
  lines.add(fmt::format("natural_frequency = \"{:.4g} Hz ± {:.2g} Hz\"", f.value, f.plus_minus),
            said({"{} knocks with no shaft on{}", "{} Schläge ohne Welle{}"}, knocks_asked, damping));
}

}  // namespace

std::optional<Spread> stated_natural_Hz(const KnockFinding& knocked) {
  std::optional<Spread> stated = knocked.natural_frequency_Hz;
  if (stated) stated->plus_minus = std::max(stated->plus_minus, 0.02 * stated->value);
  return stated;
}

Said over_others_text(const KnockFinding& knocked) {
  if (knocked.over_others > 1e3) return said({"no other channel shows them", "kein anderer Kanal zeigt sie"});
  return said({"{:.0f} times those of any other channel", "{:.0f}-mal so groß wie in jedem anderen Kanal"},
              knocked.over_others);
}

double volts_per_si_on_shaker(const ShakerFinding& found, const KnockFinding& knocked, const SetupTold& told,
                              bool full_scale, Motion motion) {
  const double corner = knocked.high_pass_Hz ? knocked.high_pass_Hz->value / found.frequency_Hz : 0.0;
  const double volts = found.volts_rms.value * (full_scale ? full_scale_V(told) : 1.0) * std::hypot(1.0, corner);
  const double si = motion == Motion::displacement ? shaker_m_s2_rms / (shaker_rad_s * shaker_rad_s)
                    : motion == Motion::velocity   ? shaker_m_s2_rms / shaker_rad_s
                                                   : shaker_m_s2_rms;
  return volts / si;
}

double percent_on_shaker(const ShakerFinding& found) {
  return 100.0 * std::hypot(shaker_part, found.volts_rms.plus_minus / found.volts_rms.value);
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
  const double volts = full_scale_V(told);
  if (!told.full_scale.empty()) rig.tach.full_scale_V = volts;
  if (all.slow.level) {
    rig.tach.level = *all.slow.level * (all.full_scale ? volts : 1.0);
    rig.tach.hysteresis = *all.slow.hysteresis * (all.full_scale ? volts : 1.0);
  }
  for (const std::size_t end : {0U, 1U}) {
    Sensor sensor;
    sensor.name = end == 0 ? "A" : "B";
    sensor.channel = static_cast<int>(all.knocks[end].channel) + 1;
    sensor.full_scale_V = volts;
    sensor.sensitivity = parse_sensitivity(sensitivity_of(end, told, all));
    if (all.knocks[end].inverted) sensor.sensitivity.volts_per_si *= -1.0;
    if (all.knocks[end].high_pass_Hz) sensor.ac_coupling_Hz = all.knocks[end].high_pass_Hz->value;
    rig.sensors.push_back(sensor);
  }
  return rig;
}

Said rig_text_of(const SetupTold& told, const Gathered& all, const Rig& rig, const Proof& proof) {
  Lines lines;
  lines.add_text(said(
      {"# Found by 'counterspot rig new' and proved at {:.0f} rpm: {} at 3:00 was found as {:.1f} g at {}.\n"
       "# Smallest residual that the noise of one such spin lets be told: {:.2g} g·mm at A, {:.2g} g·mm at B. What the "
       "rig\n"
       "# really reaches, its qualification shows.\n",
       "# Gefunden von 'counterspot rig new' und bewiesen bei {:.0f} min⁻¹: {} auf 3:00 fanden sich als {:.1f} g auf "
       "{}.\n"
       "# Kleinste Restunwucht, die das Rauschen eines solchen Messlaufs erkennen lässt: {:.2g} g·mm an A, {:.2g} g·mm "
       "an B.\n"
       "# Was die Bank wirklich erreicht, zeigt ihre Eignungsprüfung.\n"},
      rpm(proof.speed_rad_s), told.weight, 1e3 * proof.found_mass_kg, clock_text(proof.found_clock_rad),
      in_g_mm(proof.smallest_residual_kg_m[0]), in_g_mm(proof.smallest_residual_kg_m[1])));
  add_rig(lines, told, rig);
  add_tach(lines, told, all, rig);
  for (const std::size_t end : {0U, 1U}) add_sensor(lines, end, told, all);
  if (all.knocks[0].natural_frequency_Hz && all.knocks[1].natural_frequency_Hz)
    for (const std::size_t end : {0U, 1U}) add_pedestal(lines, end, all.knocks[end]);
  for (const Said& sentence : all.swept) lines.add_text(said({"# {}\n", "# {}\n"}, sentence));
  return lines.all();
}

}  // namespace counterspot
