#pragma once

#include <string>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// The sentences that commands and page share.

/// What is wrong and how to mend it, where there is only one line.
std::string sentence_of(const Error& error);

/// "38.4 ± 1.4": the expanded uncertainty to two digits, and the value to the same place.
std::string measured(double value, double expanded_uncertainty);

/// "4.82 mm/s at 52.9 deg".
std::string text_of(const SensorReading& reading);

/// Shown once wherever a weight or a spin is asked for.
std::string cautions();

}  // namespace counterspot
