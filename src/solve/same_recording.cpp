#include "solve/same_recording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "recording/same_bytes.hpp"

namespace counterspot {

namespace {

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

bool is_same_recording(const SpinReading& one, const SpinReading& other) {
  if (!turn_alike(one.speed_rad_s, other.speed_rad_s) || one.vectors.size() != other.vectors.size()) return false;
  for (std::size_t s = 0; s < one.vectors.size(); ++s)
    if (!read_alike(one.vectors[s], other.vectors[s], other.covariances[s])) return false;
  return true;
}

}  // namespace

Error same_recording(const std::string& which, const std::string& remedy) {
  return {Trouble::recording, "same_recording", which, remedy};
}

bool read_alike(const Phasor& one, const Phasor& other, const Eigen::Matrix2d& covariance) {
  return std::abs(one - other) <= 1e-4 * std::sqrt(0.5 * covariance.trace());
}

bool turn_alike(const std::optional<double>& one_rad_s, const std::optional<double>& other_rad_s) {
  if (!one_rad_s || !other_rad_s) return one_rad_s == other_rad_s;
  return std::abs(*one_rad_s - *other_rad_s) <= 1e-9 * *other_rad_s;
}

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

}  // namespace counterspot
