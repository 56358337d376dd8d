#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/angle_resampler.hpp"
#include "tracking/health.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/welch.hpp"

namespace counterspot {
namespace {

constexpr double samples_per_order =
    2.56;                              // of the highest: the filter is flat to 0.83 of half the rate, 0.78 are used
constexpr double held_fraction = 0.4;  // of the sample rate: so far the filter is flat

void check(const OrderSpectrumOptions& options) {
  if (!(options.highest_order > 0.0 && options.highest_order <= 200.0)) {
    throw Error(Trouble::request, "bad_orders",
                fmt::format("a spectrum cannot reach up to order {}", options.highest_order),
                "give a highest order up to 200");
  }
  if (!(options.order_step >= 0.01 && options.order_step <= 1.0)) {
    throw Error(Trouble::request, "bad_order_step",
                fmt::format("lines cannot stand {} orders apart", options.order_step),
                "give a step from 0.01 to 1 order");
  }
}

/// Stretches that overlap by half, as the samples come.
class Averager {
 public:
  Averager(const OrderSpectrumOptions& options, std::size_t sensors) : signals_(sensors) {
    per_turn_ = std::bit_ceil(static_cast<std::size_t>(std::ceil(samples_per_order * options.highest_order)));
    per_turn_ = std::max<std::size_t>(per_turn_, 8);
    stretch_turns_ = static_cast<std::size_t>(std::llround(1.0 / options.order_step));
    const double last = options.highest_order * static_cast<double>(stretch_turns_);
    powers_.assign(sensors, std::vector<double>(static_cast<std::size_t>(std::floor(last + 1e-9)) + 1, 0.0));
  }

  std::size_t samples_per_turn() const { return per_turn_; }
  std::vector<std::vector<double>>& signals() { return signals_; }
  std::size_t stretches() const { return stretches_; }
  double turns() const { return static_cast<double>(used_samples_) / static_cast<double>(per_turn_); }

  void start_anew() {
    for (auto& signal : signals_) signal.clear();
    overlapping_ = false;
  }

  void add_stretches() {
    const std::size_t size = stretch_turns_ * per_turn_;
    while (signals_.front().size() >= size) {
      const std::size_t half = size / 2;
      for (std::size_t s = 0; s < signals_.size(); ++s) {
        add_powers(std::span(signals_[s]).first(size), powers_[s]);
        signals_[s].erase(signals_[s].begin(), signals_[s].begin() + static_cast<std::ptrdiff_t>(half));
      }
      used_samples_ += overlapping_ ? half : size;
      overlapping_ = true;
      ++stretches_;
    }
  }

  /// Its lines up to this order.
  OrderSpectrum spectrum(std::size_t s, double highest_order) const {
    OrderSpectrum spectrum;
    spectrum.order_step = 1.0 / static_cast<double>(stretch_turns_);
    spectrum.noise_bandwidth = hann_noise_bandwidth * spectrum.order_step;
    for (std::size_t line = 0; line < powers_[s].size() && spectrum.order_at(line) <= highest_order; ++line)
      spectrum.amplitudes.push_back(std::sqrt(powers_[s][line] / static_cast<double>(stretches_)));
    return spectrum;
  }

 private:
  std::size_t per_turn_ = 0;
  std::size_t stretch_turns_ = 0;
  std::vector<std::vector<double>> signals_;
  std::vector<std::vector<double>> powers_;
  std::size_t stretches_ = 0;
  std::size_t used_samples_ = 0;
  bool overlapping_ = false;
};

Error too_short(const std::string& name, const OrderSpectrumOptions& options) {
  const double turns = std::round(1.0 / options.order_step);
  return {Trouble::recording, "too_short",
          fmt::format("{}: lines {} orders apart need {:.0f} turns on end, and a turn or two before and behind", name,
                      1.0 / turns, turns),
          "record longer, or ask for lines further apart"};
}

Warning lowered(const RecordingInfo& info, const OrderSpectra& spectra, double asked_order) {
  const OrderSpectrum& first = spectra.sensors.front();
  return {
      WarningCode::orders_lowered, std::nullopt,
      fmt::format("{}: the spectrum ends at order {:.4g} and not at {:g}, for at {:.0f} rpm the sample rate of {:g} Hz "
                  "holds no more",
                  info.name, first.order_at(first.amplitudes.size() - 1), asked_order, rpm(spectra.fastest_rad_s),
                  info.sample_rate_Hz)};
}

}  // namespace

OrderSpectra order_spectra(Recording& recording, const Rig& rig, const OrderSpectrumOptions& options) {
  check(options);
  const RecordingInfo& info = recording.info();
  const SensorChannels sensors = sensor_channels(info, rig);
  SpinStream stream(recording, rig.tach, sensors.channels, options.block_frames);
  Averager averager(options, sensors.names.size());
  AngleResampler resampler(averager.samples_per_turn(), sensors.channels, sensors.scales, sharp);
  OrderSpectra result;
  result.slowest_rad_s = 1e300;
  while (const auto turn = stream.next()) {
    stream.check_finite(*turn);
    if (turn->turn.end_frame > options.to_s * info.sample_rate_Hz) break;
    if (turn->turn.begin_frame < options.from_s * info.sample_rate_Hz) continue;
    const double speed = turn->frames.step_rad * info.sample_rate_Hz;
    if (speed < options.slowest_rad_s || speed > options.fastest_rad_s) {
      resampler.clear();
      continue;
    }
    result.slowest_rad_s = std::min(result.slowest_rad_s, speed);
    result.fastest_rad_s = std::max(result.fastest_rad_s, speed);
    std::vector<std::vector<double>> fresh(sensors.names.size());
    if (!resampler.add(*turn, fresh)) averager.start_anew();
    for (std::size_t s = 0; s < fresh.size(); ++s) {
      auto& signal = averager.signals()[s];
      signal.insert(signal.end(), fresh[s].begin(), fresh[s].end());
    }
    averager.add_stretches();
  }
  if (averager.stretches() == 0) throw too_short(info.name, options);
  const double held_order = held_fraction * info.sample_rate_Hz * turn_rad / result.fastest_rad_s;
  for (std::size_t s = 0; s < sensors.names.size(); ++s) {
    result.sensors.push_back(averager.spectrum(s, held_order));
    result.sensors.back().sensor = sensors.names[s];
    result.sensors.back().motion = sensors.motions[s];
  }
  result.file = info.name;
  result.stretches = averager.stretches();
  result.turns = averager.turns();
  result.tach = stream.report();
  result.warnings = recording.warnings();
  report_lost_and_extra(result.tach, result.warnings);
  if (held_order < options.highest_order) result.warnings.push_back(lowered(info, result, options.highest_order));
  return result;
}

}  // namespace counterspot
