#pragma once

#include <string>
#include <vector>

#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// A check or a recalibration, from all its spins. @throws Error(request, "no_yardstick").
RigResult held_against_yardstick(const RigWork& work, const std::vector<PlannedRigSpin>& plan,
                                 const std::vector<RigSpin>& spins);

/// "QUALIFICATION passed", …
std::string rig_result_words(RigTask task, const RigClosed& closed);

/// "FIT 102.6 g on A at 0 deg, nothing else, and SPIN".
std::string test_mass_words(const std::vector<FittedWeight>& fitted, const Shaft& shaft);

/// How the shaft is to sit in its adapters.
std::string mounting_line(const PlannedRigSpin& planned, bool first);

/// @throws Error(request, "not_two_planes").
void refuse_unless_two_planes(const Shaft& reference);

}  // namespace counterspot
