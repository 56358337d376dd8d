#pragma once

#include <vector>

#include "counterspot/influence/influence.hpp"

namespace counterspot {

/// What stays on the shaft once the weights of these numbers (1, 2, 3, … in the order of `on`) came off.
/// @throws Error(request, "no_such_piece").
std::vector<FittedWeight> without_numbers(std::vector<FittedWeight> on, std::vector<int> off);

}  // namespace counterspot
