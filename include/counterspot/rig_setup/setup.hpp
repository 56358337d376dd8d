#pragma once

#include <functional>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "counterspot/rig_setup/findings.hpp"

namespace counterspot {

/// A new rig, from nothing to a file that was proved, one act at a time. What is kept is what was told: which recording
/// shows which act, and what was typed. What it means is found anew each time, so any act may be repeated alone.

/// Those from `shaker_a` on a rig does without: they are asked for when somebody wants them.
enum class SetupStep {
  rest,
  running,
  knocks_a,
  knocks_b,
  hand_turn,
  slow_run,
  direction,
  bare,
  at_a,
  at_b,
  known,
  shaker_a,
  shaker_b,
  sweep
};
inline constexpr int hand_turns_asked = 5;
constexpr bool is_optional(SetupStep step) {
  return step >= SetupStep::shaker_a;
}

/// "rest", "running", "knocks-a", "knocks-b", "hand", "slow", "direction", "bare", "at-a", "at-b", "known",
/// "shaker-a", "shaker-b", "sweep".
std::string_view setup_step_name(SetupStep step);
/// One of these, or all of "knocks", "tach", "proof", "sensitivity". @throws Error(request, "no_such_step").
std::vector<SetupStep> setup_steps_named(const std::string& name);

struct SetupTold {
  std::map<SetupStep, std::string> recordings;  ///< names, as they are opened
  std::string top_goes;                         ///< "left" or "right", for who stands at end A and looks towards B
  std::string name = "new rig";
  std::string viewing_end = "A";
  std::string known_seen_from;             ///< the viewing end when the known weight was put on
  std::string full_scale;                  ///< "10 V", what 1.0 in a recording means; empty: not known, taken as 1 V
  std::array<std::string, 2> sensitivity;  ///< "100 mV/g", of A and B
  std::string weight, radius;              ///< "15 g", "39 mm"
  /// What recordings are made from, as the shop's file has it; empty: nothing, or what it says of itself.
  std::string source, source_rate, source_channels, source_format;
  std::set<SetupStep> wanted;  ///< of the optional steps
  std::string written;         ///< the rig file as it was written last; empty: not yet
};
/// JSON. @throws Error(request, "bad_kept") for a text that is none of these.
std::string text_of(const SetupTold& told);
SetupTold setup_told_of(const std::string& text, const std::string& where);

/// What is to be done next, in the operator's words.
struct SetupInstruction {
  Said by_hand;           ///< what hands do first, while nothing can turn; empty: nothing
  Said act;               ///< what is recorded, or said
  Said typed;             ///< what is typed with it at the command; empty: nothing
  Said caution;           ///< what hands and bystanders need to know
  bool driven = false;    ///< the drive runs meanwhile, and nobody is near; else it is isolated
  double seconds = 10.0;  ///< how long is recorded
};
SetupInstruction instruction_of(SetupStep step, const SetupTold& told);
Said setup_step_title(SetupStep step);  ///< "Rest", "Knocks at A"

/// Of a source: two sensors' and the tach's.
inline constexpr int setup_least_channels = 3;

struct SetupStanding {
  std::optional<SetupStep> next;  ///< empty: everything was told
  std::optional<Again> again;     ///< why `next` is asked for once more
  std::vector<Said> found;        ///< a sentence each, with the margin
  std::optional<Rig> watched;     ///< sensors and tach, once they are known: enough to see whether a shaft turns
  std::optional<Rig> rig;         ///< as understood, once all but the proof is known
  std::optional<Proof> proof;
  Said rig_text;  ///< the file, each line with how it was found; empty unless the proof held
};
using OpenRecording = std::function<std::unique_ptr<Recording>(const std::string& name)>;
/// @throws what `open`, Recording::read and track() throw, but for a spin that cannot be measured: that is asked again.
SetupStanding standing_of(const SetupTold& told, const OpenRecording& open);

}  // namespace counterspot
