#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "counterspot/placement/placement.hpp"
#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/tracking/sweep.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "rig_setup/gathered.hpp"

namespace counterspot {

namespace {

constexpr double three_o_clock_rad = 0.5 * pi;
constexpr double certificate_and_shaker_percent = 10.0;  // common practice, no source
constexpr double least_swept = 1.5;                      // of fastest over slowest

/// Goes through the steps as far as they are told and sure.
class Walk {
 public:
  Walk(const SetupTold& told, const OpenRecording& open) : told_(told), open_(open) {}

  SetupStanding go() {
    if (understood() && proved() && standing_.proof->result == ProofResult::held && swept())
      standing_.rig_text = rig_text_of(told_, all_, *standing_.rig, *standing_.proof);
    return std::move(standing_);
  }

 private:
  bool ask(SetupStep step, std::optional<Again> again = {}) {
    standing_.next = step;
    standing_.again = std::move(again);
    return false;
  }
  template <typename... Parts>
  void say(const SaidWords& words, const Parts&... parts) {
    standing_.found.push_back(said(words, parts...));
  }

  bool is_told(SetupStep step) const { return told_.recordings.contains(step); }
  Take take_of(SetupStep step) const {
    const auto recording = open_(told_.recordings.at(step));
    return read_take(*recording);
  }

  bool understood() { return rest() && knocks() && shaker() && tach() && direction(); }

  /// Which channel is which goes through all recordings: one with fewer or other channels tells nothing.
  std::optional<Again> other_channels(const Take& taken) {
    const std::size_t count = taken.channels.size();
    if (count < static_cast<std::size_t>(setup_least_channels))
      return Again{said({"it has {} channels", "sie hat {} Kanäle"}, count),
                   said({"record at least {} at once: two sensors and the tach",
                         "mindestens {} zugleich aufnehmen: zwei Aufnehmer und den Drehzahlgeber"},
                        setup_least_channels)};
    if (channels_ == 0) channels_ = count;
    if (count == channels_) return std::nullopt;
    return Again{said({"it has {} channels, and the one at rest has {}", "sie hat {} Kanäle, und die in Ruhe hat {}"},
                      count, channels_),
                 said({"record every step from the same source, with all its channels",
                       "jeden Schritt von derselben Quelle aufnehmen, mit allen ihren Kanälen"})};
  }

  bool rest() {
    for (const SetupStep step : {SetupStep::rest, SetupStep::running}) {
      if (!is_told(step)) return ask(step);
      const Take taken = take_of(step);
      if (auto again = other_channels(taken)) return ask(step, *again);
      auto& found = step == SetupStep::rest ? all_.rest : all_.running;
      for (const auto& samples : taken.channels) found.push_back(find_rest(samples, taken.sample_rate_Hz));
      all_.full_scale = taken.full_scale;
    }
    return true;
  }

  bool knocks() {
    for (const std::size_t end : {0U, 1U}) {
      const SetupStep step = end == 0 ? SetupStep::knocks_a : SetupStep::knocks_b;
      if (!is_told(step)) return ask(step);
      const Take taken = take_of(step);
      if (auto again = other_channels(taken)) return ask(step, *again);
      const auto found = find_knocks(taken);
      if (const auto* again = std::get_if<Again>(&found)) return ask(step, *again);
      all_.knocks[end] = std::get<KnockFinding>(found);
      const KnockFinding& knocked = all_.knocks[end];
      if (end == 1 && knocked.channel == all_.knocks[0].channel) {
        return ask(step,
                   Again{said({"channel {} shows the knocks of both ends", "Kanal {} zeigt die Schläge beider Enden"},
                              knocked.channel + 1),
                         said({"knock on pedestal B; if that was done, pedestal A was the wrong one: --only knocks",
                               "an Lagerbock B klopfen; war es so, war Lagerbock A der falsche: --only knocks"})});
      }
      const Said inverted = said({"; it is inverted: a push towards it makes its signal fall",
                                  "; er ist umgepolt: ein Druck auf ihn zu lässt sein Signal fallen"});
      say({"sensor {}: channel {}, {} knocks: {}{}", "Aufnehmer {}: Kanal {}, {} Schläge: {}{}"}, "AB"[end],
          knocked.channel + 1, knocks_asked, over_others_text(knocked), knocked.inverted ? inverted : Said{});
      if (const auto natural = stated_natural_Hz(knocked)) {
        const Said damping = knocked.damping
                                 ? said({", damping {:.1f} %", ", Dämpfung {:.1f} %"}, 100.0 * knocked.damping->value)
                                 : Said{};
        say({"pedestal {}: {:.1f} ± {:.1f} Hz with no shaft on{}", "Lagerbock {}: {:.1f} ± {:.1f} Hz ohne Welle{}"},
            "AB"[end], natural -> value, natural -> plus_minus, damping);
      }
      if (knocked.high_pass_Hz) {
        say({"channel {} lets low frequencies through only from {:.1f} Hz up",
             "Kanal {} lässt tiefe Frequenzen erst ab {:.1f} Hz durch"},
            knocked.channel + 1, knocked.high_pass_Hz->value);
      }
    }
    say_rest();
    return true;
  }

  void say_rest() {
    for (const std::size_t end : {0U, 1U}) {
      const RestFinding& rest = all_.rest.at(all_.knocks[end].channel);
      const RestFinding& running = all_.running.at(all_.knocks[end].channel);
      const Said line = running.line_Hz ? said({"; with the drive on a line at {:.1f} Hz, {:.2g}",
                                                "; bei laufendem Antrieb eine Linie bei {:.1f} Hz, {:.2g}"},
                                               *running.line_Hz, running.line_amplitude)
                                        : Said{};
      const Said drift = std::abs(rest.drift) > rest.noise_rms
                             ? said({"; it drifts by {:.2g}", "; er driftet um {:.2g}"}, rest.drift)
                             : Said{};
      const Said hum = rest.hum_Hz ? said({"; hum of {:g} Hz", "; Brummen von {:g} Hz"}, *rest.hum_Hz) : Said{};
      say({"sensor {} at rest: {:.2g} of noise, {:.2g} with the drive on{}{}{}",
           "Aufnehmer {} in Ruhe: {:.2g} Rauschen, {:.2g} bei laufendem Antrieb{}{}{}"},
          "AB"[end], rest.noise_rms, running.noise_rms, hum, drift, line);
    }
  }

  /// If it is told or wanted.
  bool shaker() {
    for (const std::size_t end : {0U, 1U}) {
      const SetupStep step = end == 0 ? SetupStep::shaker_a : SetupStep::shaker_b;
      if (!is_told(step)) {
        if (told_.wanted.contains(step)) return ask(step);
        continue;
      }
      const Take taken = take_of(step);
      if (auto again = other_channels(taken)) return ask(step, *again);
      const auto found = find_shaker(taken, all_.knocks[end].channel);
      if (const auto* again = std::get_if<Again>(&found)) return ask(step, *again);
      all_.shaker[end] = std::get<ShakerFinding>(found);
      if (!agrees_with_certificate(end)) return false;
    }
    return true;
  }

  /// A certificate and a shaker that say different things are both in doubt.
  bool agrees_with_certificate(std::size_t end) {
    const std::string& typed = told_.sensitivity[end];
    const Sensitivity stated = typed.empty() ? Sensitivity{} : parse_sensitivity(typed);
    if (stated.motion == Motion::unscaled) return true;
    const double shown =
        volts_per_si_on_shaker(*all_.shaker[end], all_.knocks[end], told_, all_.full_scale, stated.motion);
    const double percent = percent_on_shaker(*all_.shaker[end]);
    if (typed.empty()) {
      say({"sensor {}: {:.4g} mV/(m/s2) ± {:.1f} %, by the shaker at {:.1f} Hz",
           "Aufnehmer {}: {:.4g} mV/(m/s2) ± {:.1f} %, nach dem Schwinger bei {:.1f} Hz"},
          "AB"[end], 1e3 * shown, percent, all_.shaker[end]->frequency_Hz);
      return true;
    }
    const double off_percent = 100.0 * (shown / std::abs(stated.volts_per_si) - 1.0);
    if (std::abs(off_percent) <= certificate_and_shaker_percent) {
      say({"sensor {}: the shaker shows {:+.1f} ± {:.1f} % of what was typed",
           "Aufnehmer {}: der Schwinger zeigt {:+.1f} ± {:.1f} % gegen die Eingabe"},
          "AB"[end], off_percent, percent);
      return true;
    }
    return ask(end == 0 ? SetupStep::shaker_a : SetupStep::shaker_b,
               Again{said({"the shaker shows {:+.0f} % of the sensitivity that was typed for sensor {}",
                           "der Schwinger zeigt {:+.0f} % gegen die Empfindlichkeit, die für Aufnehmer {} eingegeben "
                           "wurde"},
                          off_percent, "AB"[end]),
                     said({"compare the certificate's number with the sensor's, and the full scale with the input's",
                           "die Nummer des Zertifikats mit der des Aufnehmers vergleichen und die Aussteuerungsgrenze "
                           "mit der des Eingangs"})});
  }

  bool tach() {
    if (!is_told(SetupStep::hand_turn)) return ask(SetupStep::hand_turn);
    const Take by_hand = take_of(SetupStep::hand_turn);
    if (auto again = other_channels(by_hand)) return ask(SetupStep::hand_turn, *again);
    const auto turned = find_tach(by_hand, hand_turns_asked, {all_.knocks[0].channel, all_.knocks[1].channel});
    if (const auto* again = std::get_if<Again>(&turned)) return ask(SetupStep::hand_turn, *again);
    all_.hand = std::get<HandTurnFinding>(turned);
    const Said way = all_.hand.pulses_fall ? said({"falls", "fällt"}) : said({"rises", "steigt"});
    const Said pulses = all_.hand.marks_per_turn == 1 ? said({"1 pulse", "1 Impuls"})
                                                      : said({"{} pulses", "{} Impulse"}, all_.hand.marks_per_turn);
    say({"tach: channel {}, the signal {} at the mark, {} per turn",
         "Drehzahlgeber: Kanal {}, das Signal {} an der Marke, {} je Umdrehung"},
        all_.hand.channel + 1, way, pulses);
    if (all_.hand.marks_per_turn > 1)
      say(
          {"tach: was one mark put on, the other pulses are another mark or glare: take it off or blacken it, and "
           "repeat "
           "the tach (--only tach)",
           "Drehzahlgeber: ist nur eine Marke angebracht, sind die anderen Impulse eine zweite Marke oder ein Glanz: "
           "abnehmen oder schwärzen und den Drehzahlgeber wiederholen (--only tach)"});
    standing_.watched = rig_of(told_, all_);
    if (!is_told(SetupStep::slow_run)) return ask(SetupStep::slow_run);
    const Take slow = take_of(SetupStep::slow_run);
    if (auto again = other_channels(slow)) return ask(SetupStep::slow_run, *again);
    const auto run = find_edges(slow, all_.hand);
    if (const auto* again = std::get_if<Again>(&run)) return ask(SetupStep::slow_run, *again);
    all_.slow = std::get<SlowRunFinding>(run);
    if (all_.slow.high_pass_Hz)
      say({"channel {} lets low frequencies through only from {:.1f} Hz up, as the level under the mark falls: so may "
           "the "
           "sensors' channels of the same device",
           "Kanal {} lässt tiefe Frequenzen erst ab {:.1f} Hz durch, wie der Pegel unter der Marke abfällt: so wohl "
           "auch "
           "die Kanäle der Aufnehmer am selben Gerät"},
          all_.hand.channel + 1, *all_.slow.high_pass_Hz);
    const Said edge = all_.slow.trailing_edge ? said({"goes", "geht"}) : said({"comes", "kommt"});
    say({"tach: the mark is {:.0f} deg wide; its edges waver by {:.0f} us where it comes and {:.0f} us where it goes, "
         "taken is where it {}",
         "Drehzahlgeber: die Marke ist {:.0f}° breit; ihre Kanten schwanken um {:.0f} µs, wo sie kommt, und {:.0f} µs, "
         "wo sie geht; genommen wird, wo sie {}"},
        360.0 * all_.slow.mark_turns, 1e6 * all_.slow.leading_jitter_s, 1e6 * all_.slow.trailing_jitter_s, edge);
    standing_.watched = rig_of(told_, all_);
    return true;
  }

  bool direction() {
    if (told_.top_goes.empty()) return ask(SetupStep::direction);
    standing_.rig = rig_of(told_, all_);
    const Said rotation = standing_.rig->rotation == Rotation::clockwise
                              ? said({"clockwise", "im Uhrzeigersinn"})
                              : said({"counter-clockwise", "gegen den Uhrzeigersinn"});
    for (const Sensor& sensor : standing_.rig->sensors) {
      if (sensor.sensitivity.motion != Motion::unscaled) continue;
      say({"sensor {}: no sensitivity is known, its levels are in volts; correction and verdict need ratios alone",
           "Aufnehmer {}: keine Empfindlichkeit bekannt, seine Pegel sind in Volt; Ausgleich und Bewertung brauchen "
           "nur "
           "Verhältnisse"},
          sensor.name);
    }
    say({"rotation: {} as seen from end {}", "Drehrichtung: {}, von Ende {} gesehen"}, rotation, told_.viewing_end);
    return true;
  }

  bool proved() {
    std::array<std::unique_ptr<Recording>, 4> spins;
    ProofSpins proof;
    const std::array<SetupStep, 4> steps = {SetupStep::bare, SetupStep::at_a, SetupStep::at_b, SetupStep::known};
    for (std::size_t i = 0; i < steps.size(); ++i) {
      if (!is_told(steps[i])) return ask(steps[i]);
      if (i > 0 && (told_.weight.empty() || told_.radius.empty())) {
        return ask(steps[i], Again{said({"it is not said how heavy the weight is and at what radius its middle sits",
                                         "es ist nicht gesagt, wie schwer das Gewicht ist und auf welchem Radius seine "
                                         "Mitte sitzt"}),
                                   said({"say it: --weight \"15 g\" --radius \"39 mm\"",
                                         "es sagen: --weight \"15 g\" --radius \"39 mm\""})});
      }
      // measured by itself first: one that cannot be is asked again by name
      if (!measured(steps[i], [&](Recording& recording) { track(recording, *standing_.rig); })) return false;
      spins[i] = open_(told_.recordings.at(steps[i]));
      proof.recordings[i] = spins[i].get();
    }
    proof.mass_kg = parse_quantity(told_.weight, Dimension::mass);
    proof.radius_m = parse_quantity(told_.radius, Dimension::length);
    proof.clock_rad = three_o_clock_rad;
    proof.seen_from = told_.known_seen_from.empty() ? told_.viewing_end : told_.known_seen_from;
    standing_.proof = prove(*standing_.rig, proof);
    return true;
  }

  /// @return false if the recording itself is in the way, and the step is asked for once more.
  bool measured(SetupStep step, const std::function<void(Recording&)>& measure) {
    try {
      const auto recording = open_(told_.recordings.at(step));
      measure(*recording);
      return true;
    } catch (const Error& error) {
      if (error.trouble() != Trouble::recording || error.code() == "not_found") throw;
      return ask(step, Again{{error.what(), error.what()}, {error.remedy(), error.remedy()}, error.code()});
    }
  }

  /// Which speeds a shaft on these pedestals may be balanced at, if it is told or wanted.
  bool swept() {
    if (!is_told(SetupStep::sweep)) return !told_.wanted.contains(SetupStep::sweep) || ask(SetupStep::sweep);
    Sweep found;
    if (!measured(SetupStep::sweep, [&](Recording& recording) { found = sweep(recording, *standing_.rig); }))
      return false;
    const auto [slowest, fastest] = std::minmax_element(
        found.points.begin(), found.points.end(),
        [](const SweepPoint& one, const SweepPoint& other) { return one.speed_rad_s < other.speed_rad_s; });
    if (found.points.empty() || fastest->speed_rad_s < least_swept * slowest->speed_rad_s)
      return ask(SetupStep::sweep, Again{said({"the speed hardly changed", "die Drehzahl änderte sich kaum"}),
                                         said({"let the shaft coast down to rest", "die Welle auslaufen lassen"})});
    all_.swept = swept_text(found, {slowest->speed_rad_s, fastest->speed_rad_s}, standing_.proof->speed_rad_s);
    standing_.found.insert(standing_.found.end(), all_.swept.begin(), all_.swept.end());
    return true;
  }

  const SetupTold& told_;
  const OpenRecording& open_;
  Gathered all_;
  std::size_t channels_ = 0;  ///< of the first recording
  SetupStanding standing_;
};

}  // namespace

SetupStanding standing_of(const SetupTold& told, const OpenRecording& open) {
  return Walk(told, open).go();
}

}  // namespace counterspot
