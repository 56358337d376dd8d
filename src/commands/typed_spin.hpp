#pragma once

#include <string>
#include <vector>

#include "counterspot/log/log.hpp"

namespace counterspot::commands {

/// What a job, or work on a rig, begins with: both files as they are now.
Opening opening_of(const std::string& rig_file, const std::string& shaft_file);

/// A spin from what the command line says: a recording, or one vector a sensor. @throws Error(request, …) "no_spin",
/// "wrong_sensors", and as track().
Spun spun_of(const std::string& recording, const std::vector<std::string>& vectors, const std::string& speed,
             const Rig& rig, const Shaft& shaft);

}  // namespace counterspot::commands
