#pragma once

#include <string>

namespace counterspot {

/// Numbers as people read them; never with an exponent.

/// The power of ten of the last digit that is shown beside this expanded uncertainty (> 0), which has two digits (GUM,
/// JCGM 100:2008, 7.2.6): 0.96 → -2, 0.996 → -1 (it reads 1.0), 113 → 1.
int last_place(double expanded_uncertainty);

/// To a power of ten: (1234, 1) → "1230", (38.07, -1) → "38.1".
std::string rounded_text(double value, int place);

/// With so many digits that count: (110.4, 2) → "110", (0.0123, 2) → "0.012".
std::string significant_text(double value, int digits);

/// "38.4 ± 1.4": both end at the same place. Four digits of the value where no uncertainty is known (0).
std::string measured_text(double value, double expanded_uncertainty);

}  // namespace counterspot
