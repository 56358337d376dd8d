#pragma once

#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// @param spun about to become a spin of the work. @throws Error(recording, "same_recording") if it is one already.
void refuse_recording_again(const RigWork& work, const Spun& spun);

}  // namespace counterspot
