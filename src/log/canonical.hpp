#pragma once

#include <string>

#include "counterspot/job/job.hpp"

namespace counterspot {

/// The text that is sealed: what an export says of the thing, but for what another log or a later version may say
/// differently (the job's name, the version of the exchange form). It must never change for what is kept already.
std::string canonical_text(const Job& job);  ///< its opening
std::string canonical_text(const Event& event);

}  // namespace counterspot
