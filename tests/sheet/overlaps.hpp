#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"

namespace counterspot::test {

/// What stands about a page's texts: of a sheet, the margins of ISO 5457.
struct Margins {
  double left_mm = 20.0;
  double others_mm = 10.0;
};
/// A sentence for each two texts that overlap, as they are drawn, and for each that leaves the frame of a page.
std::vector<std::string> overlaps_of(const std::vector<Picture>& pages, Margins margins = {});

}  // namespace counterspot::test
