#pragma once

#include <string>
#include <vector>

#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

/// One sentence each: which speeds keep away from every resonance of every sensor at once, by 30 % or five half-power
/// widths, whichever is more (common practice, no source). A sweep shows rig and shaft together; how fast the shaft may
/// turn is not its to say.
std::vector<std::string> advice_on(const Sweep& sweep);

}  // namespace counterspot
