#include "solve/moved_sensor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "solve/same_weights.hpp"

namespace counterspot {

namespace {

constexpr double alike_speed = 0.02;  // spins further apart are not compared

}  // namespace

bool comparable(const SpinReading& one, const SpinReading& other) {
  if (one.turned_rad != other.turned_rad || one.vectors.size() != other.vectors.size()) return false;
  if (!one.speed_rad_s || !other.speed_rad_s) return true;
  return std::abs(*other.speed_rad_s / *one.speed_rad_s - 1.0) <= alike_speed;
}

SpinReading at_speed_of(const SpinReading& other, const SpinReading& spin, const std::vector<Motion>& motions) {
  return other.speed_rad_s ? bring_to_speed(spin, motions, *other.speed_rad_s) : spin;
}

double variance_of(const SpinReading& one, const SpinReading& other, std::size_t sensor) {
  return 0.5 * (one.covariances[sensor].trace() + other.covariances[sensor].trace());
}

std::optional<MovedSensor> moved_sensor(const SpinReading& first, const SpinReading& later,
                                        const std::vector<Motion>& motions, const std::vector<double>& largest) {
  const SpinReading now = at_speed_of(first, later, motions);
  std::optional<MovedSensor> most;
  for (std::size_t s = 0; s < first.vectors.size(); ++s) {
    const double usual = usual_change_of_reading * largest[s];
    const double change = std::abs(now.vectors[s] - first.vectors[s]);
    if (change <= deviations_of_a_change * std::sqrt(variance_of(first, now, s) + usual * usual)) continue;
    const double share = change / std::max(std::abs(first.vectors[s]), usual);
    if (!most || share > most->share) most = {s, share};
  }
  return most;
}

std::vector<double> largest_of(const std::vector<SpinReading>& spins) {
  std::vector<double> largest(spins.front().vectors.size(), 0.0);
  for (const SpinReading& spin : spins)
    for (std::size_t s = 0; s < std::min(largest.size(), spin.vectors.size()); ++s)
      largest[s] = std::max(largest[s], std::abs(spin.vectors[s]));
  return largest;
}

std::optional<Error> unstated_change(const std::vector<SpinReading>& spins, const std::vector<Motion>& motions,
                                     const std::vector<Sensor>& sensors) {
  const std::vector<double> largest = largest_of(spins);
  for (std::size_t k = 1; k < spins.size(); ++k) {
    const auto first = std::find_if(
        spins.begin(), spins.begin() + static_cast<std::ptrdiff_t>(k),
        [&](const SpinReading& each) { return comparable(each, spins[k]) && same_weights(each, spins[k]); });
    if (first == spins.begin() + static_cast<std::ptrdiff_t>(k)) continue;
    const auto change = moved_sensor(*first, spins[k], motions, largest);
    if (!change) continue;
    return Error(Trouble::request, warning_code(WarningCode::reading_moved),
                 fmt::format("spin '{}': sensor {} reads {:.0f} % otherwise than in spin '{}', and both state the same "
                             "weights",
                             spins[k].label, sensors[change->sensor].name, 100.0 * change->share, first->label),
                 "say in 'fitted' what was on the shaft in each, or leave the spin out");
  }
  return std::nullopt;
}

}  // namespace counterspot
