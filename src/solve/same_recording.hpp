#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/units/error.hpp"

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

/// Whether two readings of one sensor are nearer to one another than a ten-thousandth of their own uncertainty. Of two
/// recordings with noise of its own, each of the two parts of each sensor's reading does that once in some ten thousand
/// times.
bool read_alike(const Phasor& one, const Phasor& other, const Eigen::Matrix2d& covariance);

/// To rounding; or neither is known.
bool turn_alike(const std::optional<double>& one_rad_s, const std::optional<double>& other_rad_s);

/// The refusal, code same_recording.
Error same_recording(const std::string& which, const std::string& remedy);

}  // namespace counterspot
