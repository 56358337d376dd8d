#include "job/same_recording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "recording/same_bytes.hpp"

namespace counterspot {

namespace {

Error same_recording(const std::string& which, const std::string& remedy) {
  return {Trouble::recording, "same_recording", which, remedy};
}

Error same_in_set(const std::string& one, const std::string& other, const std::string& how, bool alike) {
  return same_recording(fmt::format("spins '{}' and '{}' are the same recording, {}{}", one, other, how,
                                    alike ? ": it counts once" : ", and state other weights"),
                        alike ? "take one of the two out; to count twice, the shaft is spun twice"
                              : "name each spin's own recording; if there is none, make that spin again");
}

template <typename Spin>
bool like_weights(const Spin& one, const Spin& other) {
  return one.fitted == other.fitted && one.turned_rad == other.turned_rad;
}

/// Nearer to one another than a ten-thousandth of their own uncertainty. Of two recordings with noise of its own, each
/// of the two parts of each sensor's reading does that once in some ten thousand times.
bool read_alike(const Phasor& one, const Phasor& other, const Eigen::Matrix2d& covariance) {
  return std::abs(one - other) <= 1e-4 * std::sqrt(0.5 * covariance.trace());
}

bool turn_alike(const std::optional<double>& one_rad_s, const std::optional<double>& other_rad_s) {
  if (!one_rad_s || !other_rad_s) return one_rad_s == other_rad_s;
  return std::abs(*one_rad_s - *other_rad_s) <= 1e-9 * *other_rad_s;
}

bool is_same_recording(const Spun& one, const Spun& other) {
  if (one.recording.empty() || other.recording.empty()) return false;
  if (!one.sha256.empty() && one.sha256 == other.sha256) return true;
  return turn_alike(one.speed_rad_s, other.speed_rad_s) &&
         std::equal(
             one.readings.begin(), one.readings.end(), other.readings.begin(), other.readings.end(),
             [](const SensorReading& a, const SensorReading& b) { return read_alike(a.value, b.value, b.covariance); });
}

bool is_same_recording(const SpinReading& one, const SpinReading& other) {
  if (!turn_alike(one.speed_rad_s, other.speed_rad_s) || one.vectors.size() != other.vectors.size()) return false;
  for (std::size_t s = 0; s < one.vectors.size(); ++s)
    if (!read_alike(one.vectors[s], other.vectors[s], other.covariances[s])) return false;
  return true;
}

}  // namespace

void refuse_same_recordings(const std::vector<SpinRecording>& spins) {
  for (auto spin = spins.begin(); spin != spins.end(); ++spin) {
    const auto earlier = std::find_if(spins.begin(), spin,
                                      [&](const SpinRecording& other) { return same_bytes(other.file, spin->file); });
    if (earlier != spin) throw same_in_set(earlier->label, spin->label, "byte for byte", like_weights(*earlier, *spin));
  }
}

void refuse_same_readings(const std::vector<SpinReading>& spins) {
  for (auto spin = spins.begin(); spin != spins.end(); ++spin) {
    const auto earlier =
        std::find_if(spins.begin(), spin, [&](const SpinReading& other) { return is_same_recording(other, *spin); });
    if (earlier != spin) {
      throw same_in_set(earlier->label, spin->label, "for they read alike far below their noise",
                        like_weights(*earlier, *spin));
    }
  }
}

void refuse_recording_again(const Job& job, const Spun& spun) {
  const JobState state = state_of(job.events);
  const auto same = std::find_if(state.spins.begin(), state.spins.end(),
                                 [&](const StandingSpin& spin) { return is_same_recording(spin.spun, spun); });
  if (same == state.spins.end()) return;
  const bool alike = same->fitted == state.on_shaft && same->spun.turned_rad == spun.turned_rad;
  throw same_recording(
      fmt::format("this recording is entry {} of job {} already, '{}'{}", same->number, job.name, same->spun.label,
                  alike ? ": it counts once" : ", which was spun with other weights"),
      fmt::format("enter the recording of this spin; if entry {} is the wrong one, take it back", same->number));
}

void refuse_recording_again(const RigWork& work, const Spun& spun) {
  for (const auto& event : state_of(work).spins) {
    if (!event || !is_same_recording(std::get<RigSpun>(event->what).spun, spun)) continue;
    throw same_recording(
        fmt::format("this recording is spin {} already", std::get<RigSpun>(event->what).step + 1),
        "enter the recording of this spin; if an earlier one is wrong, take spins back until it is the last");
  }
}

}  // namespace counterspot
