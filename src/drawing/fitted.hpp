#pragma once

#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"

namespace counterspot {

/// A letter is no wider than this share of its height: of texts too short to need measuring.
inline constexpr double widest_letter = 1.2;
/// A name is made this much smaller at most; what is still too long is cut, with an ellipsis.
inline constexpr double least_of_height = 0.7;

/// As wide as it is drawn. mm.
double width_of(const std::string& words, double height_mm, bool heavy = false);

/// A name of any length in the width of `text.fit_mm`, still to be read.
Lettering fitted(Lettering text);

/// Lines of words no wider than this; a word that is too long by itself is a line.
std::vector<std::string> wrapped(const std::string& words, double height_mm, double width_mm);

}  // namespace counterspot
