#include "job/recording_again.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "solve/same_recording.hpp"

namespace counterspot {

bool is_same_recording(const Spun& one, const Spun& other) {
  if (one.recording.empty() || other.recording.empty()) return false;
  if (!one.sha256.empty() && one.sha256 == other.sha256) return true;
  return turn_alike(one.speed_rad_s, other.speed_rad_s) &&
         std::equal(
             one.readings.begin(), one.readings.end(), other.readings.begin(), other.readings.end(),
             [](const SensorReading& a, const SensorReading& b) { return read_alike(a.value, b.value, b.covariance); });
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

}  // namespace counterspot
