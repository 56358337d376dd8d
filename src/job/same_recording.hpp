#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/job/rig_work.hpp"

namespace counterspot {

/// A recording is of one spin. Under the name of another it says nothing of the other weights, and would end in a
/// verdict on a shaft that was never spun; with the same weights it would count its own noise twice, and repeat itself
/// better than any rig.
///
/// Two recordings are the same if their bytes are, or if all that was read from them agrees far below its own noise, as
/// of a copy in another format: noise does not repeat itself.

/// A recorded spin before it is measured.
struct SpinRecording {
  std::string label;
  std::filesystem::path file;
  std::vector<FittedWeight> fitted;
  std::optional<double> turned_rad;
};

/// @throws Error(recording, "same_recording") if two are the same bytes, before any of them is measured.
void refuse_same_recordings(const std::vector<SpinRecording>& spins);

/// @param spins of recordings, as they were measured. @throws Error(recording, "same_recording").
void refuse_same_readings(const std::vector<SpinReading>& spins);

/// @param spun about to become an entry of the job. @throws Error(recording, "same_recording") if it is one already.
void refuse_recording_again(const Job& job, const Spun& spun);

/// The same of work on a rig.
void refuse_recording_again(const RigWork& work, const Spun& spun);

}  // namespace counterspot
