#include "counterspot/tracking/comparison.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/units/error.hpp"

namespace counterspot {
namespace {

constexpr double alike = 0.3;         // of the larger
constexpr double least_factor = 6.0;  // of a sensitivity that is a decade out
constexpr double largest_factor = 16.0;
constexpr double alike_phase_deg = 20.0;
constexpr double largest_speed_step = 0.02;
constexpr double least_noises = 8.0;  // standard uncertainties that a vector must have to be judged by

bool is_like(const Phasor& a, const Phasor& b) {
  return std::abs(a - b) <= alike * std::max(std::abs(a), std::abs(b));
}

class Comparison {
 public:
  Comparison(const std::vector<std::string>& sensors, const std::vector<Phasor>& read, const Expected& expected)
      : sensors_(sensors), read_(read), expected_(expected) {}

  Warnings warnings() {
    find_swapped();
    find_turned_over();
    find_wrong_scale();
    return std::move(warnings_);
  }

 private:
  bool worth(std::size_t s) const { return std::abs(expected_.vectors[s]) > expected_.least[s]; }
  bool reads_well(std::size_t s) const { return is_like(read_[s], expected_.vectors[s]); }

  void find_swapped() {
    for (std::size_t a = 0; a < read_.size(); ++a) {
      for (std::size_t b = a + 1; b < read_.size(); ++b) {
        if (!worth(a) || !worth(b) || reads_well(a) || reads_well(b)) continue;
        if (!is_like(read_[a], expected_.vectors[b]) || !is_like(read_[b], expected_.vectors[a])) continue;
        swapped_ = true;
        warnings_.push_back({WarningCode::swapped_sensors, sensors_[a],
                             fmt::format("sensors {} and {}: each reads what the other should by {}; see whether their "
                                         "cables are exchanged",
                                         sensors_[a], sensors_[b], expected_.from)});
      }
    }
  }

  void find_turned_over() {
    std::vector<std::size_t> turned;
    for (std::size_t s = 0; s < read_.size(); ++s) {
      if (worth(s) && is_like(read_[s], -expected_.vectors[s])) turned.push_back(s);
    }
    if (swapped_ || (turned.size() == read_.size() && read_.size() > 1)) return;
    for (const std::size_t s : turned) {
      warnings_.push_back({WarningCode::inverted_polarity, sensors_[s],
                           fmt::format("sensor {}: it reads the opposite of what it should by {}; see whether it sits "
                                       "the other way round or its wires are exchanged",
                                       sensors_[s], expected_.from)});
    }
  }

  void find_wrong_scale() {
    for (std::size_t s = 0; s < read_.size(); ++s) {
      if (swapped_ || !worth(s) || std::abs(read_[s]) == 0.0) continue;
      const Phasor ratio = read_[s] / expected_.vectors[s];
      const double factor = std::max(std::abs(ratio), 1.0 / std::abs(ratio));
      if (factor < least_factor || factor > largest_factor || std::abs(degrees(std::arg(ratio))) > alike_phase_deg)
        continue;
      warnings_.push_back({WarningCode::wrong_sensitivity, sensors_[s],
                           fmt::format("sensor {}: it reads {:.1f} times {} than it should by {}; look at its range "
                                       "switch, and at sensitivity and full scale in the rig file",
                                       sensors_[s], factor, std::abs(ratio) > 1.0 ? "more" : "less", expected_.from)});
    }
  }

  const std::vector<std::string>& sensors_;
  const std::vector<Phasor>& read_;
  const Expected& expected_;
  Warnings warnings_;
  bool swapped_ = false;
};

const OrderVector* order_1_of(const SensorTrack& sensor) {
  const auto found = std::find_if(sensor.orders.begin(), sensor.orders.end(),
                                  [](const OrderVector& vector) { return vector.order == 1.0; });
  return found == sensor.orders.end() ? nullptr : &*found;
}

Error not_alike(const std::string& what, const std::string& remedy) {
  return {Trouble::request, "not_alike", what, remedy};
}

void check_alike(const Track& later, const Track& earlier) {
  const bool same_sensors =
      std::equal(later.sensors.begin(), later.sensors.end(), earlier.sensors.begin(), earlier.sensors.end(),
                 [](const SensorTrack& a, const SensorTrack& b) {
                   return a.name == b.name && a.motion == b.motion && order_1_of(a) && order_1_of(b);
                 });
  if (!same_sensors)
    throw not_alike(fmt::format("{} and {} were not measured with the same sensors", later.file, earlier.file),
                    "compare spins of one rig, order 1 among the orders");
  if (std::abs(later.speed_rad_s / earlier.speed_rad_s - 1.0) <= largest_speed_step) return;
  throw not_alike(fmt::format("{} turns at {:.0f} rpm and {} at {:.0f} rpm", later.file, rpm(later.speed_rad_s),
                              earlier.file, rpm(earlier.speed_rad_s)),
                  "compare spins within 2 % of one speed");
}

}  // namespace

Warnings compare_readings(const std::vector<std::string>& sensors, const std::vector<Phasor>& read,
                          const Expected& expected) {
  return Comparison(sensors, read, expected).warnings();
}

Warnings compare_tracks(const Track& later, const Track& earlier) {
  check_alike(later, earlier);
  Expected expected{earlier.file, {}, {}};
  std::vector<std::string> names;
  std::vector<Phasor> read;
  for (std::size_t s = 0; s < later.sensors.size(); ++s) {
    const OrderVector& before = *order_1_of(earlier.sensors[s]);
    names.push_back(later.sensors[s].name);
    read.push_back(order_1_of(later.sensors[s])->value);
    expected.vectors.push_back(before.value + (later.speed_rad_s - earlier.speed_rad_s) * before.slope.per_rad_s);
    expected.least.push_back(least_noises * before.u_amplitude());
  }
  return compare_readings(names, read, expected);
}

}  // namespace counterspot
