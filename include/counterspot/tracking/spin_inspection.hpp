#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/recording/inspection.hpp"
#include "counterspot/recording/rig_lines.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// How one sensor fares on its channel.
struct SensorHealth {
  std::string name;
  std::string unit;    ///< in which results of this sensor are shown
  double rms = 0.0;    ///< about the mean, in that unit
  std::string health;  ///< "good", or in words what is wrong
};

/// What is in one recording; with a rig, how its tach and sensors fare.
struct SpinInspection {
  std::unique_ptr<InspectedRecording> recording;  ///< read to its end; its channel statistics
  std::optional<Track> track;         ///< with a rig, if it can be followed turn by turn, be it a reading or not
  std::optional<Error> trouble;       ///< with a rig, why it is no reading, if it is none
  std::vector<SensorHealth> sensors;  ///< in the rig's order; empty without a rig
  std::vector<RigLine> to_choose;     ///< without a rig: the lines for its file, where there is a choice
  Warnings warnings;

  /// "good", or in words what is wrong.
  std::string tach_health() const;

  /// What to look at before this is measured, in a sentence without its full stop; empty if nothing speaks against it.
  std::optional<std::string> to_look_at() const;
};

/// One pass over the recording, so that a pipe serves too. @throws Error as open_recording and Recording::read do, and
/// Error(request, …) for a rig that does not fit the recording; a recording that cannot be measured is `trouble`.
/// @param earlier a spin with the same weights on the shaft, for compare_tracks.
SpinInspection inspect_recording(const std::filesystem::path& path, const std::optional<Rig>& rig,
                                 RecordingOptions options = {}, const std::optional<Track>& earlier = std::nullopt);

}  // namespace counterspot
