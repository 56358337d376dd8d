#pragma once

#include <array>
#include <optional>
#include <vector>

#include "counterspot/rig_setup/findings.hpp"

namespace counterspot {

/// The daily check where no reference shaft is at hand: three knocks on each pedestal, with no shaft on, as `rig new`
/// asks for them. They tell whether each sensor is alive, in its place and the right way round, whether the two still
/// have the same gain against each other, and whether the pedestals swing as they did. They do not tell a gain that
/// changed alike in both sensors, nor the tach: the check with a reference shaft does.

/// What is kept of a day's knocks, for the next day's to be held against.
struct TapRecord {
  std::optional<double> a_over_b;  ///< gain of sensor A over that of B, to a constant of the rig
  std::array<std::optional<double>, 2> natural_frequency_Hz = {};
};

struct TapCheck {
  bool within = false;
  bool changed = false;       ///< something is not as it was: a part replaced for good shows so for ever
  std::vector<Said> against;  ///< a sentence for each thing that is wrong
  std::vector<Said> found;    ///< what was held against what
  TapRecord record;
};
/// Of a gain against the other, and of a pedestal's natural frequency: more is a change (common practice, no source;
/// the size of a knock's answer differs by less from knock to knock).
inline constexpr double tap_gain_change = 0.3;
inline constexpr double tap_frequency_change = 0.1;

/// Each knock is larger in its own sensor by a ratio that does not hang on how hard it was, r_A = g_A h_AA/(g_B h_BA);
/// with h_AB = h_BA (reciprocity, any vibrations textbook) √(r_A/r_B) is g_A/g_B times a constant of the rig.
/// @param before that it is held against; empty: there is none.
/// @throws what Recording::read and find_channel throw.
FoundOrAgain<TapCheck> tap_check(const Rig& rig, Recording& knocks_a, Recording& knocks_b,
                                 const std::optional<TapRecord>& before);

}  // namespace counterspot
