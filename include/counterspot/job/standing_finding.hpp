#pragma once

#include "counterspot/job/job.hpp"

namespace counterspot {

/// The finding that stands: of the close; of an open job, of its last spin, if no weight was changed since. nullptr:
/// there is none.
const Finding* standing_finding(const Job& job, const JobState& state);

}  // namespace counterspot
