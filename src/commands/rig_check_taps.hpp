#pragma once

#include <string>

#include "commands/recorded_step.hpp"
#include "counterspot/drawing/words.hpp"

namespace counterspot::commands {

/// `rig check --knocks-a … --knocks-b …`, or `--source …`: the daily check where no reference shaft is at hand.
struct TapsAsked {
  std::string rig_file, log;
  std::string knocks_a, knocks_b;
  SourceAsked live;     ///< records them now, where there are no files
  bool record = false;  ///< from the shop's source
  bool json = false;

  bool any() const { return record || !knocks_a.empty() || !knocks_b.empty() || !live.source.empty(); }
};
/// @return 0: within; 1: outside, or to be knocked again.
int check_by_taps(TapsAsked asked, const Words& words);

}  // namespace counterspot::commands
