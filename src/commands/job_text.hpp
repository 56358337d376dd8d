#pragma once

#include <string>

#include "commands/output.hpp"
#include "counterspot/job/job.hpp"

namespace counterspot::commands {

/// A job as a person reads it: what happened, in order, and what was taken back.
std::string text_of(const Job& job);

/// "2 of 3 weights": "A 15.0 g at 138.4 deg".
std::string text_of(const FittedWeight& piece, const Shaft& shaft);
/// "12 ± 2 of 348 g·mm at A, …: within".
std::string text_of(const Finding& finding);

}  // namespace counterspot::commands
