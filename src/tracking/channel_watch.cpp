#include "tracking/channel_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "tracking/health_text.hpp"

namespace counterspot {
namespace {

constexpr double near_full_scale = 0.99;     // 127/128, the largest value of an 8-bit file, is above it
constexpr double beyond_full_scale = 1.001;  // a float file that goes beyond 1.0 is not cut off there
constexpr double silent_fraction = 1e-6;     // of full scale
constexpr double open_input_steps = 2.0;
constexpr double surely_seen = 5.0;  // standard uncertainties

bool stands_still(const TurnFrames& frames, std::size_t channel) {
  const Samples x = frames.data + channel;
  for (std::size_t n = 1; n < frames.count; ++n) {
    if (x[n * frames.stride] != x[0]) return false;
  }
  return true;
}

}  // namespace

ChannelWatch::ChannelWatch(const RecordingInfo& info, std::size_t channel)
    : info_(info), channel_(channel), spectrum_(info.sample_rate_Hz) {}

void ChannelWatch::add(const TurnOfSamples& turn, const LevelSums& level) {
  const TurnFrames& frames = turn.frames;
  if (frames.count == 0) return;
  const auto count = static_cast<double>(frames.count);
  ++turns_;
  if (stands_still(frames, channel_)) ++still_turns_;
  largest_square_ = std::max(largest_square_, level.largest_square);
  square_ += std::max(0.0, level.square - level.sum * level.sum / count);
  frames_ += count;
  if (!info_.full_scale || level.largest_square < near_full_scale * near_full_scale) return;
  const Samples x = frames.data + channel_;
  for (std::size_t n = 1; n < frames.count; ++n) {
    const double here = x[n * frames.stride];
    if (std::abs(here) >= near_full_scale && here == x[(n - 1) * frames.stride]) ++held_at_end_;
  }
}

void ChannelWatch::add(const Stretch& stretch, std::size_t channel_of_stretch, std::span<const double> powers) {
  spectrum_.add(stretch, powers);
  plateau_.add(stretch, channel_of_stretch);
  steps_.push_back(stretch.steps[channel_of_stretch]);
}

void ChannelWatch::describe(SensorTrack& sensor, const Track& spin, double si_per_unit) {
  si_per_unit_ = si_per_unit;
  spectrum_.keep_between(spin.begin_s * info_.sample_rate_Hz, (spin.begin_s + spin.duration_s) * info_.sample_rate_Hz);
  sensor.bands = spectrum_.bands(std::abs(si_per_unit));
  sensor.broadband_rms = broadband_rms(sensor.bands);
}

bool ChannelWatch::dead() const {
  return 2 * still_turns_ >= turns_ || (info_.full_scale && largest_square_ < silent_fraction * silent_fraction);
}

bool ChannelWatch::quiet(const SensorTrack& sensor) const {
  if (sensor.bands.empty()) return false;
  const double rms = sensor.broadband_rms / std::abs(si_per_unit_);
  const bool under_steps = !steps_.empty() && rms < open_input_steps * median_of(steps_);
  const bool under_share = info_.full_scale && rms < open_input_fraction;
  if (!under_steps && !under_share) return false;
  for (std::size_t k = 1; k <= NoiseSpectrum::most_orders; ++k) {
    if (spectrum_.over_noise(k) > spectrum_.sure_ratio()) return false;
  }
  // where a line of the mains stands near an order the spectra say nothing, and the fit does, which tells them apart
  return std::none_of(sensor.orders.begin(), sensor.orders.end(), [&](const OrderVector& vector) {
    const bool whole = vector.order == std::round(vector.order) && vector.order <= NoiseSpectrum::most_orders;
    return whole && spectrum_.over_noise(static_cast<std::size_t>(vector.order)) == 0.0 &&
           vector.amplitude() > surely_seen * vector.u_amplitude();
  });
}

void ChannelWatch::report(const SensorTrack& sensor, Warnings& warnings) const {
  if (held_at_end_ > 0 && largest_square_ < beyond_full_scale * beyond_full_scale) {
    warnings.push_back(
        {WarningCode::clipped, sensor.name,
         fmt::format("sensor {}: {} at the end of the converter's range; lower the gain and record again", sensor.name,
                     plural(held_at_end_, "sample stands", "samples stand"))});
  }
  const std::vector<double> levels = plateau_.levels();
  if (!levels.empty()) {
    const MotionUnit unit{sensor.motion, si_per_unit_ / si_per_display_unit(sensor.motion)};
    std::string at;
    for (const double level : levels)
      at += fmt::format("{}{:.3g}", at.empty() ? "" : " and ", level * unit.si_per_unit);
    warnings.push_back({WarningCode::flattened, sensor.name,
                        fmt::format("sensor {}: the signal is cut off turn after turn, at {} {}", sensor.name, at,
                                    display_unit(sensor.motion))});
  }
  if (dead()) {
    warnings.push_back(
        {WarningCode::dead_channel, sensor.name,
         fmt::format("sensor {}: there is no signal; check cable, supply and channel number", sensor.name)});
  } else if (quiet(sensor)) {
    warnings.push_back({WarningCode::quiet_channel, sensor.name,
                        fmt::format("sensor {}: nothing in it turns with the shaft, and its noise is no more than an "
                                    "open input's; check cable, supply and channel number",
                                    sensor.name)});
  }
}

double ChannelWatch::rms() const {
  return frames_ > 0.0 ? std::sqrt(square_ / frames_) : 0.0;
}

}  // namespace counterspot
