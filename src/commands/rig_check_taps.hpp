#pragma once

#include <string>

#include "counterspot/drawing/words.hpp"

namespace counterspot::commands {

/// `rig check --knocks-a … --knocks-b …`: the daily check where no reference shaft is at hand.
struct TapsAsked {
  std::string rig_file, log;
  std::string knocks_a, knocks_b;
  bool json = false;
};
/// @return 0: within; 1: outside, or to be knocked again.
int check_by_taps(const TapsAsked& asked, const Words& words);

}  // namespace counterspot::commands
