#pragma once

#include <vector>

#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// A check or a recalibration, from all its spins. @throws Error(request, "no_yardstick").
RigResult held_against_yardstick(const RigWork& work, const std::vector<PlannedRigSpin>& plan,
                                 const std::vector<RigSpin>& spins);

/// @throws Error(request, "not_two_planes").
void refuse_unless_two_planes(const Shaft& reference);

}  // namespace counterspot
