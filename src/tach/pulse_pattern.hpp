#pragma once

#include <optional>
#include <span>
#include <vector>

#include "tach/edge_finder.hpp"

namespace counterspot {

/// Where the N pulses of a turn sit, from the identified one: positions_turn[0] = 0, ascending, < 1.
struct PulsePattern {
  std::vector<double> positions_turn;
  double turn_frames = 0.0;  ///< length of a turn at the end of the run it was learned from
};

/// What a run of pulses says about the pattern.
struct LearnedRun {
  PulsePattern pattern;
  std::size_t first_identified = 0;  ///< index into the run
};

/// How many turns a run must repeat for its pattern to be believed.
inline constexpr int learning_turns = 4;

/// Length of the longest run at the end of `pulses` whose intervals repeat every `per_turn` pulses (each within 30 % of
/// the one a turn before). Learning needs learning_turns·per_turn + 1 pulses.
std::size_t repeating_tail(std::span<const Pulse> pulses, int per_turn);

/// Learns the pattern from a repeating run of at least learning_turns·per_turn + 1 pulses; a speed that changes evenly
/// is taken out of it. The identified pulse is
///  - the only pulse, if there is one per turn;
///  - else the pulse that ends the odd gap, if turning the pattern by any number of pulses changes it by at least 5 %
///  of
///    the mean gap and 6 times the scatter of the gaps: where teeth are left out, the longest gap; else the gap that
///    differs most from the median one, the longer of two that differ alike;
///  - else the pulse of odd width, if the widths tell the pulses apart by 20 % of their mean and 6 times their scatter,
///    and the gaps come nowhere near doing so.
/// Of several odd ones that are alike it is the one that the others follow soonest, so that it does not matter where a
/// recording begins. Empty if that leaves a choice, or might in another recording of the same wheel.
std::optional<LearnedRun> learn_pattern(std::span<const Pulse> run, int per_turn);

/// A wheel as its pulses show it.
struct SeenWheel {
  int pulses = 0;  ///< after which the gaps repeat
  int places = 0;  ///< teeth it would have if none were left out
};

/// From the end of `pulses`, if that repeats after no more than 1000 pulses over the last learning_turns times as many,
/// or as are stated, and if all gaps are whole pitches, within a quarter.
std::optional<SeenWheel> seen_wheel(std::span<const Pulse> pulses, int stated_per_turn);

}  // namespace counterspot
