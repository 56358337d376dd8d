#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"

namespace counterspot::test {

/// A sentence for each two texts that overlap, as they are drawn, and for each that leaves the frame of a page.
std::vector<std::string> overlaps_of(const std::vector<Picture>& pages);

}  // namespace counterspot::test
