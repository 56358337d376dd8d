#pragma once

#include <vector>

#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// A check or a recalibration, from all its spins. @throws Error(request, "no_yardstick").
RigResult held_against_yardstick(const RigWork& work, const std::vector<PlannedRigSpin>& plan,
                                 const std::vector<RigSpin>& spins);

RigFinding finding_of(RigPlace place, double measured, double allowed, std::string words);

/// Did that place fail?
bool failed(const std::vector<RigFinding>& findings, RigPlace place);

/// @throws Error(request, "not_two_planes").
void refuse_unless_two_planes(const Shaft& reference);

}  // namespace counterspot
