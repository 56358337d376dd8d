#include <fmt/format.h>

#include <cmath>

#include "counterspot/placement/placement.hpp"
#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/units/error.hpp"
#include "rig_setup/gathered.hpp"

namespace counterspot {

namespace {

constexpr double three_o_clock_rad = 0.5 * pi;

/// Goes through the steps as far as they are told and sure.
class Walk {
 public:
  Walk(const SetupTold& told, const OpenRecording& open) : told_(told), open_(open) {}

  SetupStanding go() {
    if (understood() && proved() && standing_.proof->result == ProofResult::held)
      standing_.rig_text = rig_text_of(told_, all_, *standing_.rig, *standing_.proof);
    return std::move(standing_);
  }

 private:
  bool ask(SetupStep step, std::optional<Again> again = {}) {
    standing_.next = step;
    standing_.again = std::move(again);
    return false;
  }
  void say(std::string sentence) { standing_.found.push_back(std::move(sentence)); }

  bool is_told(SetupStep step) const { return told_.recordings.contains(step); }
  Take take(SetupStep step) const {
    const auto recording = open_(told_.recordings.at(step));
    return take_of(*recording);
  }

  bool understood() { return rest() && knocks() && tach() && direction(); }

  bool rest() {
    for (const SetupStep step : {SetupStep::rest, SetupStep::running}) {
      if (!is_told(step)) return ask(step);
      const Take taken = take(step);
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
      const auto found = find_knocks(take(step));
      if (const auto* again = std::get_if<Again>(&found)) return ask(step, *again);
      all_.knocks[end] = std::get<KnockFinding>(found);
      const KnockFinding& knocked = all_.knocks[end];
      if (end == 1 && knocked.channel == all_.knocks[0].channel) {
        return ask(step, Again{fmt::format("channel {} shows the knocks of both ends", knocked.channel + 1),
                               "knock on pedestal B; if that was done, pedestal A was the wrong one: --only knocks"});
      }
      say(fmt::format("sensor {}: channel {}, {} knocks: {}{}", "AB"[end], knocked.channel + 1, knocks_asked,
                      over_others_text(knocked),
                      knocked.inverted ? "; it is inverted: a push towards it makes its signal fall" : ""));
      if (knocked.natural_frequency_Hz) {
        say(fmt::format("pedestal {}: {:.1f} ± {:.1f} Hz with no shaft on{}", "AB"[end],
                        knocked.natural_frequency_Hz->value, knocked.natural_frequency_Hz->plus_minus,
                        knocked.damping ? fmt::format(", damping {:.1f} %", 100.0 * knocked.damping->value) : ""));
      }
      if (knocked.high_pass_Hz) {
        say(fmt::format("channel {} lets low frequencies through only from {:.1f} Hz up", knocked.channel + 1,
                        knocked.high_pass_Hz->value));
      }
    }
    say_rest();
    return true;
  }

  void say_rest() {
    for (const std::size_t end : {0U, 1U}) {
      const RestFinding& rest = all_.rest.at(all_.knocks[end].channel);
      const RestFinding& running = all_.running.at(all_.knocks[end].channel);
      say(fmt::format("sensor {} at rest: {:.2g} of noise, {:.2g} with the drive on{}", "AB"[end], rest.noise_rms,
                      running.noise_rms, rest.hum_Hz ? fmt::format("; hum of {:g} Hz", *rest.hum_Hz) : ""));
    }
  }

  bool tach() {
    if (!is_told(SetupStep::hand_turn)) return ask(SetupStep::hand_turn);
    const auto turned =
        find_tach(take(SetupStep::hand_turn), hand_turns_asked, {all_.knocks[0].channel, all_.knocks[1].channel});
    if (const auto* again = std::get_if<Again>(&turned)) return ask(SetupStep::hand_turn, *again);
    all_.hand = std::get<HandTurnFinding>(turned);
    say(fmt::format("tach: channel {}, the signal {} at the mark, {} pulse{} per turn", all_.hand.channel + 1,
                    all_.hand.pulses_fall ? "falls" : "rises", all_.hand.marks_per_turn,
                    all_.hand.marks_per_turn == 1 ? "" : "s"));
    if (!is_told(SetupStep::slow_run)) return ask(SetupStep::slow_run);
    const auto run = find_edges(take(SetupStep::slow_run), all_.hand);
    if (const auto* again = std::get_if<Again>(&run)) return ask(SetupStep::slow_run, *again);
    all_.slow = std::get<SlowRunFinding>(run);
    say(fmt::format(
        "tach: the mark is {:.0f} deg wide; its edges waver by {:.0f} us where it comes and {:.0f} us where "
        "it goes, taken is where it {}",
        360.0 * all_.slow.mark_turns, 1e6 * all_.slow.leading_jitter_s, 1e6 * all_.slow.trailing_jitter_s,
        all_.slow.trailing_edge ? "goes" : "comes"));
    return true;
  }

  bool direction() {
    if (told_.top_goes.empty()) return ask(SetupStep::direction);
    standing_.rig = rig_of(told_, all_);
    say(fmt::format("rotation: {} as seen from end {}",
                    standing_.rig->rotation == Rotation::clockwise ? "clockwise" : "counter-clockwise",
                    told_.viewing_end));
    return true;
  }

  bool proved() {
    std::array<std::unique_ptr<Recording>, 4> spins;
    ProofSpins proof;
    const std::array<SetupStep, 4> steps = {SetupStep::bare, SetupStep::at_a, SetupStep::at_b, SetupStep::known};
    for (std::size_t i = 0; i < steps.size(); ++i) {
      if (!is_told(steps[i])) return ask(steps[i]);
      if (i > 0 && (told_.weight.empty() || told_.radius.empty())) {
        return ask(steps[i], Again{"it is not said how heavy the weight is and at what radius its middle sits",
                                   "say it: --weight \"15 g\" --radius \"39 mm\""});
      }
      try {  // measured by itself first: one that cannot be is asked again by name
        const auto recording = open_(told_.recordings.at(steps[i]));
        track(*recording, *standing_.rig);
      } catch (const Error& error) {
        if (error.trouble() != Trouble::recording || error.code() == "not_found") throw;
        return ask(steps[i], Again{error.what(), error.remedy()});
      }
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

  const SetupTold& told_;
  const OpenRecording& open_;
  Gathered all_;
  SetupStanding standing_;
};

}  // namespace

SetupStanding standing_of(const SetupTold& told, const OpenRecording& open) {
  return Walk(told, open).go();
}

}  // namespace counterspot
