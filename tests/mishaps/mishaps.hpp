#pragma once

#include <functional>
#include <string>
#include <vector>

#include "mishaps/work.hpp"

namespace counterspot::test {

/// One thing that goes wrong at the rig.
struct Mishap {
  std::string name;
  std::vector<std::string> codes;  ///< any of these names it; "refused": any refusal does
  std::function<void(Work&)> plant;
};

/// @param ending only what can be known from spins that end so.
std::vector<Mishap> mishaps_with_recordings(Ending ending);
std::vector<Mishap> mishaps_with_the_tach();
std::vector<Mishap> mishaps_with_weights();

}  // namespace counterspot::test
