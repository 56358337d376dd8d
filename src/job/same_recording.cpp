#include "job/same_recording.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "counterspot/error.hpp"
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

bool same_readings(const std::vector<SensorReading>& one, const std::vector<SensorReading>& other) {
  return std::equal(one.begin(), one.end(), other.begin(), other.end(),
                    [](const SensorReading& a, const SensorReading& b) {
                      return a.value == b.value && a.covariance == b.covariance;
                    });
}

bool is_same_recording(const Spun& one, const Spun& other) {
  if (one.recording.empty() || other.recording.empty()) return false;
  if (!one.sha256.empty() && one.sha256 == other.sha256) return true;
  return one.speed_rad_s == other.speed_rad_s && same_readings(one.readings, other.readings);
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
    const auto earlier = std::find_if(spins.begin(), spin, [&](const SpinReading& other) {
      return other.speed_rad_s == spin->speed_rad_s && other.vectors == spin->vectors &&
             other.covariances == spin->covariances;
    });
    if (earlier != spin) {
      throw same_in_set(earlier->label, spin->label, "for they read the same to the last digit",
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
