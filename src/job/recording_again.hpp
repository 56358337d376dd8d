#pragma once

#include "counterspot/job/job.hpp"

namespace counterspot {

/// Of the same bytes, or read alike far below their noise. A typed spin is none.
bool is_same_recording(const Spun& one, const Spun& other);

/// @param spun about to become an entry of the job. @throws Error(recording, "same_recording") if it is one already.
void refuse_recording_again(const Job& job, const Spun& spun);

}  // namespace counterspot
