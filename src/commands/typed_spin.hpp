#pragma once

#include <string>
#include <vector>

#include "commands/stated_options.hpp"
#include "counterspot/log/log.hpp"

namespace counterspot::commands {

/// What a job, or work on a rig, begins with: both files as they are now.
Opening opening_of(const std::string& rig_file, const std::string& shaft_file);

/// A spin as the command line says it: a recording, or one vector a sensor.
struct SpinAsked {
  std::string recording, speed;
  std::vector<std::string> vectors;
  StatedRecording stated;

  /// @throws Error(request, …) "no_spin", "wrong_sensors", and as track().
  Spun spun(const Rig& rig, const Shaft& shaft) const;
};
void add_spin_options(CLI::App& command, SpinAsked& asked);

}  // namespace counterspot::commands
