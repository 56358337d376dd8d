#include "counterspot/rig_setup/tap_check.hpp"

#include <cmath>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr double hardly_seen = 300.0;  // the other sensor shows too little to compare with

/// Holds one pedestal's knocks against what the rig's file says of its sensor.
void hold_against_file(TapCheck& check, const Sensor& sensor, std::size_t channel, const KnockFinding& knocked) {
  if (knocked.channel != channel) {
    check.against.push_back(said({"the knocks at {} are in channel {}, and its sensor is said to be in channel {}",
                                  "die Schläge an {} sind in Kanal {}, und ihr Aufnehmer soll in Kanal {} sein"},
                                 sensor.name, knocked.channel + 1, channel + 1));
    return;
  }
  if (knocked.inverted != (sensor.sensitivity.volts_per_si < 0.0))
    check.against.push_back(said({"sensor {} is turned over: a knock towards it moves its signal the other way",
                                  "Aufnehmer {} ist umgepolt: ein Schlag auf ihn zu bewegt sein Signal anders herum"},
                                 sensor.name));
  else
    check.found.push_back(said({"sensor {}: alive, in its place and the right way round",
                                "Aufnehmer {}: in Ordnung, am Platz und richtig "
                                "gepolt"},
                               sensor.name));
}

void add_compared(TapCheck& check, bool changed, const Said& words) {
  (changed ? check.against : check.found).push_back(words);
  check.changed = check.changed || changed;
}

void hold_gains(TapCheck& check, const std::optional<double>& before) {
  const std::optional<double>& now = check.record.a_over_b;
  if (!now || !before) {
    check.found.push_back(said({"the gains are held against nothing: {}",
                                "die Verstärkungen sind mit nichts "
                                "verglichen: {}"},
                               now ? said({"this is the first check", "dies ist die erste Prüfung"})
                                   : said({"a sensor hardly shows the other pedestal's knocks",
                                           "ein Aufnehmer zeigt kaum die Schläge am anderen Lagerbock"})));
    return;
  }
  const double ratio = *now / *before;
  const Said change = said({"gain of A against B: {:.2f} of what it was",
                            "Verstärkung von A gegen B: {:.2f}-mal so groß "
                            "wie zuvor"},
                           ratio);
  add_compared(check, std::abs(std::log(ratio)) > std::log1p(tap_gain_change), change);
}

void hold_pedestal(TapCheck& check, std::size_t end, const std::optional<double>& before) {
  const std::optional<double>& now = check.record.natural_frequency_Hz[end];
  if (!now || !before) return;
  const Said words =
      said({"pedestal {}: {:.1f} Hz, and before {:.1f} Hz", "Lagerbock {}: {:.1f} Hz, und zuvor {:.1f} Hz"}, "AB"[end],
           *now, *before);
  add_compared(check, std::abs(*now / *before - 1.0) > tap_frequency_change, words);
}

}  // namespace

FoundOrAgain<TapCheck> tap_check(const Rig& rig, Recording& knocks_a, Recording& knocks_b,
                                 const std::optional<TapRecord>& before) {
  if (rig.sensors.size() != 2)
    throw Error(Trouble::request, "wrong_sensors", "knocks check a rig of two sensors, one at each pedestal",
                "make the daily check with a reference shaft: 'rig check --shaft reference.toml'");
  TapCheck check;
  std::array<double, 2> over{};
  for (const std::size_t end : {0U, 1U}) {
    Recording& recording = end == 0 ? knocks_a : knocks_b;
    const std::size_t channel =
        find_channel(recording.info(), rig.sensors[end].channel, "sensor " + rig.sensors[end].name);
    const auto found = find_knocks(read_take(recording));
    if (const auto* again = std::get_if<Again>(&found)) {
      Again named = *again;
      named.why = said({"knocks at {}: {}", "Schläge an {}: {}"}, "AB"[end], again -> why);
      return named;
    }
    const auto& knocked = std::get<KnockFinding>(found);
    hold_against_file(check, rig.sensors[end], channel, knocked);
    over[end] = knocked.over_others;
    if (knocked.natural_frequency_Hz) check.record.natural_frequency_Hz[end] = knocked.natural_frequency_Hz->value;
  }
  if (over[0] < hardly_seen && over[1] < hardly_seen) check.record.a_over_b = std::sqrt(over[0] / over[1]);
  const TapRecord then = before.value_or(TapRecord{});
  if (check.against.empty()) hold_gains(check, then.a_over_b);
  for (const std::size_t end : {0U, 1U}) hold_pedestal(check, end, then.natural_frequency_Hz[end]);
  check.within = check.against.empty();
  return check;
}

}  // namespace counterspot
