#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <optional>
#include <tuple>

#include "algebra/median.hpp"
#include "counterspot/solve/repeats.hpp"

namespace counterspot {
namespace {

constexpr double near_speed = 0.05;
const double one_gain = std::log(1.5);  // the same factor in all bands
const double any_change = std::log(3.0);
constexpr double gain_spread = 0.15;     // of the logarithms over the bands, for one factor to be the same in all
constexpr double least_of_chance = 4.0;  // standard uncertainties
constexpr double told_apart = 0.25;      // two sensors must differ by that much for their exchange to show
constexpr double near_after = 0.15;      // … and be that near to each other after it

using Names = std::vector<std::string>;
using Others = std::vector<const SpinReading*>;

const std::vector<NoiseBand>& bands_of(const SpinReading& spin, std::size_t sensor) {
  return spin.levels[sensor].bands;
}

bool has_levels(const SpinReading& spin) {
  return !spin.levels.empty() && std::none_of(spin.levels.begin(), spin.levels.end(),
                                              [](const SensorLevel& level) { return level.bands.empty(); });
}

bool goes_with(const SpinReading& a, const SpinReading& b) {
  if (!a.speed_rad_s || !b.speed_rad_s) return true;
  return std::abs(*a.speed_rad_s / *b.speed_rad_s - 1.0) < near_speed;
}

/// The natural logarithm of a band's level; a level of nothing is far under any other.
double log_level(const NoiseBand& band) {
  return std::log(std::max(band.rms, 1e-30));
}

/// The band of the same frequencies.
const NoiseBand* like_band(const std::vector<NoiseBand>& bands, const NoiseBand& wanted) {
  for (const NoiseBand& band : bands)
    if (std::abs(band.from_Hz / wanted.from_Hz - 1.0) < 0.01 && std::abs(band.to_Hz / wanted.to_Hz - 1.0) < 0.01)
      return &band;
  return nullptr;
}

/// How the bands of a sensor stand to others', as natural logarithms.
struct Shift {
  std::vector<double> of_bands;
  double u = 0.0;  ///< by chance, of one band

  double middle() const { return of_bands.empty() ? 0.0 : even_median_of(of_bands); }
  /// A median of n scatters by √(π/2) of what a mean does.
  double u_of_middle() const {
    return u * std::sqrt(0.5 * pi / static_cast<double>(std::max<std::size_t>(1, of_bands.size())));
  }
  double rms() const {
    const double sum = std::inner_product(of_bands.begin(), of_bands.end(), of_bands.begin(), 0.0);
    return of_bands.empty() ? 0.0 : std::sqrt(sum / static_cast<double>(of_bands.size()));
  }
  double spread() const {
    std::vector<double> off;
    for (const double each : of_bands) off.push_back(std::abs(each - middle()));
    return off.empty() ? 0.0 : even_median_of(off);
  }
};

/// Other spins, and the medians of their bands, which many spins are held against.
class Usual {
 public:
  explicit Usual(Others others) : others_(std::move(others)) {}

  const Others& others() const { return others_; }
  /// Of the band of the same frequencies; empty if one of the spins lacks it.
  std::optional<double> log_level_of(std::size_t sensor, const NoiseBand& band) const {
    const auto [at, is_new] = known_.try_emplace({sensor, band.from_Hz, band.to_Hz});
    if (is_new) at->second = median_of_band(sensor, band);
    return at->second;
  }

 private:
  std::optional<double> median_of_band(std::size_t sensor, const NoiseBand& band) const {
    std::vector<double> levels;
    for (const SpinReading* other : others_)
      if (const NoiseBand* found = like_band(bands_of(*other, sensor), band)) levels.push_back(log_level(*found));
    if (levels.size() != others_.size()) return std::nullopt;
    return even_median_of(std::move(levels));
  }

  Others others_;
  mutable std::map<std::tuple<std::size_t, double, double>, std::optional<double>> known_;
};

/// Bands of sensor `a` in a spin against the median of sensor `b` in the others.
Shift shift_of(const SpinReading& spin, std::size_t a, const Usual& usual, std::size_t b) {
  Shift shift;
  double squares = 0.0;
  for (const NoiseBand& band : bands_of(spin, a)) {
    const auto level = usual.log_level_of(b, band);
    if (!level) continue;
    shift.of_bands.push_back(log_level(band) - *level);
    squares += 2.0 * band.u_fraction * band.u_fraction;
  }
  if (!shift.of_bands.empty()) shift.u = std::sqrt(squares / static_cast<double>(shift.of_bands.size()));
  return shift;
}

bool has_changed(const Shift& shift, double least) {
  const double moved = std::abs(shift.middle());
  if (moved < least || moved < least_of_chance * shift.u_of_middle()) return false;
  return moved > any_change || shift.spread() < gain_spread + shift.u;
}

/// The two sensors whose noise is that of each other.
bool look_exchanged(const SpinReading& spin, std::size_t a, std::size_t b, const Usual& usual) {
  const double own = std::min(shift_of(spin, a, usual, a).rms(), shift_of(spin, b, usual, b).rms());
  const Shift a_as_b = shift_of(spin, a, usual, b);
  const Shift b_as_a = shift_of(spin, b, usual, a);
  const double other = std::max(a_as_b.rms(), b_as_a.rms());
  return own > std::max(told_apart, least_of_chance * a_as_b.u) && other < std::max(near_after, 2.0 * a_as_b.u) &&
         other < 0.5 * own;
}

void say_exchanged(const SpinReading& spin, const Names& sensors, std::size_t a, std::size_t b, Warnings& warnings) {
  warnings.push_back({WarningCode::swapped_sensors, sensors[a],
                      fmt::format("the noise of sensors {} and {} is that of each other in the other spins; "
                                  "see whether their cables are exchanged",
                                  sensors[a], sensors[b])});
  warnings.back().spins = {spin.label};
  warnings.back().sensors = {sensors[a], sensors[b]};
}

void compare_one(const SpinReading& spin, const Names& sensors, const Usual& usual, double least, const char* where,
                 Warnings& warnings) {
  for (std::size_t a = 0; a < sensors.size(); ++a)
    for (std::size_t b = a + 1; b < sensors.size(); ++b)
      if (look_exchanged(spin, a, b, usual)) return say_exchanged(spin, sensors, a, b, warnings);
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    const Shift shift = shift_of(spin, s, usual, s);
    if (!has_changed(shift, least)) continue;
    warnings.push_back({WarningCode::sensor_changed, sensors[s],
                        fmt::format("the noise of sensor {} is {:.2g} times what it is in {}", sensors[s],
                                    std::exp(shift.middle()), where)});
    warnings.back().spins = {spin.label};
  }
}

}  // namespace

Warnings compare_levels(const std::vector<SpinReading>& spins, const Names& sensors,
                        const std::vector<SpinReading>& earlier) {
  Warnings warnings;
  Others with_levels;
  for (const SpinReading& spin : spins)
    if (has_levels(spin)) with_levels.push_back(&spin);
  Usual usual({});
  for (const SpinReading* spin : with_levels) {
    Others others;
    for (const SpinReading* other : with_levels)
      if (goes_with(*spin, *other)) others.push_back(other);
    if (others.size() == 2) {
      if (others[1] == spin) compare_one(*spin, sensors, Usual({others[0]}), one_gain, "the spin before", warnings);
    } else if (others.size() > 2) {
      if (others != usual.others()) usual = Usual(std::move(others));
      compare_one(*spin, sensors, usual, one_gain, "the other spins", warnings);
    } else {
      Others before;
      for (const SpinReading& other : earlier)
        if (has_levels(other) && other.levels.size() == sensors.size() && goes_with(*spin, other))
          before.push_back(&other);
      if (!before.empty()) compare_one(*spin, sensors, Usual(before), any_change, "earlier jobs on this rig", warnings);
    }
  }
  return warnings;
}

}  // namespace counterspot
