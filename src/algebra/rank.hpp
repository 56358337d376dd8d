#pragma once

#include <cstddef>
#include <vector>

namespace counterspot {

/// The value that has so many before it when they are sorted: of n values, rank 0 is the smallest and n/2 the upper one
/// of the two in the middle. The values change places.
double value_at_rank(std::vector<double>& values, std::size_t rank);

}  // namespace counterspot
