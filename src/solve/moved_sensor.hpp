#pragma once

#include <optional>
#include <vector>

#include "counterspot/solve/solution.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// Spins of the same stated weights, held against one another: does one read otherwise?

/// From one spin to the next with nothing changed, one standard deviation, as a share of the largest that the sensor
/// read in all of them (common practice, no source).
inline constexpr double usual_change_of_reading = 0.04;
/// Of what chance does, to count as a change.
inline constexpr double deviations_of_a_change = 3.0;

/// At one speed (within 2 %) and one place on the adapters.
bool comparable(const SpinReading& one, const SpinReading& other);

/// As the whole solution would bring it there.
SpinReading at_speed_of(const SpinReading& other, const SpinReading& spin, const std::vector<Motion>& motions);

/// Of either part of the difference, SI².
double variance_of(const SpinReading& one, const SpinReading& other, std::size_t sensor);

struct MovedSensor {
  std::size_t sensor = 0;  ///< that moved most
  double share = 0.0;      ///< how far, of what it read first
};

/// Whether the later spin reads otherwise than the first: by more than chance and the usual change would have it.
/// @param largest that each sensor read in any spin.
std::optional<MovedSensor> moved_sensor(const SpinReading& first, const SpinReading& later,
                                        const std::vector<Motion>& motions, const std::vector<double>& largest);

/// That each sensor read in any of the spins.
std::vector<double> largest_of(const std::vector<SpinReading>& spins);

/// The first spin that reads otherwise than an earlier one of the same stated weights, as the refusal of a set that
/// gives no answer, code reading_moved.
std::optional<Error> unstated_change(const std::vector<SpinReading>& spins, const std::vector<Motion>& motions,
                                     const std::vector<Sensor>& sensors);

}  // namespace counterspot
