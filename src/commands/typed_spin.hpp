#pragma once

#include <string>
#include <vector>

#include "commands/live_options.hpp"
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

/// A spin that is recorded now.
struct SpinToRecord {
  std::string source, recordings;
  std::string seconds = "10 s";
  LiveAsked live;
};
void add_record_options(CLI::App& command, SpinToRecord& asked);
/// Records it into a file of its own, and gives the file's name. @throws Error(request, "no_recordings");
/// Error(recording, "overrun") if samples were lost, "too_short" if the source ended early; as open_live.
std::string recorded_spin(const SpinToRecord& asked, const Job& job);

}  // namespace counterspot::commands
