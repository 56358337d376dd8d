#pragma once

#include <random>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/words.hpp"

namespace counterspot::test {

/// What the commands and the page draw, of made-up values that put labels where others are: names of any length,
/// neighbours at the same place, few readings and many. Each under its title, in either language.
enum class Drawn { track, sweep, map, solve, place, shaft, inspect, rig, page };
inline constexpr int kinds_drawn = 9;
Picture random_picture(std::mt19937& random, Drawn kind, const Words& words);

}  // namespace counterspot::test
