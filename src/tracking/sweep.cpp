#include "counterspot/sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "counterspot/error.hpp"
#include "tracking/health.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/turn_sums.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr double settling_per_bandwidth =
    3.0;  // turns until an end of a stretch is forgotten, times the bandwidth in orders
constexpr std::size_t stretch_settlings = 8;  // a stretch is this many settling lengths
constexpr double largest_weight = 1e12;       // beyond it the normal equations lose the envelope in rounding

void check(const SweepOptions& options) {
  const auto& orders = options.orders;
  std::vector<int> sorted = orders;
  std::sort(sorted.begin(), sorted.end());
  if (orders.empty() || sorted.front() < 1 || sorted.back() > 100 ||
      std::adjacent_find(sorted.begin(), sorted.end()) != sorted.end()) {
    throw Error(Trouble::request, "bad_orders", "the orders to track must be different whole numbers from 1 to 100",
                "give them as a list such as 1,2,3");
  }
  if (options.poles < 1 || options.poles > 3) {
    throw Error(Trouble::request, "bad_bandwidth", "a Vold-Kalman filter has 1, 2 or 3 poles", "give --poles 2");
  }
}

/// The mean signal over equal angles, of the stretch that is being worked on.
struct AngleBins {
  std::vector<std::vector<double>> signals;    // [sensor][bin]
  std::vector<std::vector<Complex>> carriers;  // [order][bin], mean of e^{jkθ} over the frames of the bin
  std::size_t size() const { return carriers.front().size(); }
  void drop(std::size_t count) {
    for (auto& s : signals) s.erase(s.begin(), s.begin() + static_cast<std::ptrdiff_t>(count));
    for (auto& c : carriers) c.erase(c.begin(), c.begin() + static_cast<std::ptrdiff_t>(count));
  }
};

struct PendingPoint {
  std::size_t bin = 0;
  SweepPoint point;
};

class Sweeper {
 public:
  Sweeper(const SweepOptions& options, std::vector<std::size_t> channels, std::vector<double> scales)
      : options_(options), channels_(std::move(channels)), scales_(std::move(scales)) {
    const int highest = *std::max_element(options.orders.begin(), options.orders.end());
    bins_per_turn_ = std::max<std::size_t>(16, std::bit_ceil(static_cast<unsigned>(4 * highest)));
    bandwidth_ = options.bandwidth_orders / (0.5 * static_cast<double>(bins_per_turn_));
    if (!(bandwidth_ > 0.0 && bandwidth_ < 0.5) || vold_kalman_weight(options.poles, bandwidth_) > largest_weight) {
      throw Error(
          Trouble::request, "bad_bandwidth",
          fmt::format("a bandwidth of {} orders does not go with {} poles", options.bandwidth_orders, options.poles),
          "give a --bandwidth between 0.02 and 2 orders, or fewer poles");
    }
    settling_ = static_cast<std::size_t>(std::ceil(settling_per_bandwidth / options.bandwidth_orders)) * bins_per_turn_;
    bins_.signals.resize(channels_.size());
    bins_.carriers.resize(options.orders.size());
  }

  void add(const TurnOfSamples& turn, double rate_Hz) {
    SweepPoint point;
    point.time_s = 0.5 * (turn.turn.begin_frame + turn.turn.end_frame) / rate_Hz;
    point.speed_rad_s = turn.frames.step_rad * rate_Hz;
    if (options_.method == SweepMethod::per_turn) {
      add_single(turn, std::move(point));
      return;
    }
    const std::size_t first = bins_.size();
    add_bins(turn);
    pending_.push_back({(first + bins_.size()) / 2, std::move(point)});
    if (bins_.size() >= stretch_settlings * settling_) solve(false);
  }

  std::vector<SweepPoint> finish() {
    if (options_.method == SweepMethod::vold_kalman && !pending_.empty()) solve(true);
    return std::move(points_);
  }

 private:
  void add_single(const TurnOfSamples& turn, SweepPoint point) {
    TurnSums sums;
    sum_turn(turn.frames, options_.orders, sums);
    const auto n = static_cast<double>(turn.frames.count);
    const std::size_t padded = padded_channels(turn.frames.stride);
    for (std::size_t s = 0; s < channels_.size(); ++s) {
      auto& vectors = point.vectors.emplace_back();
      const double mean = sums.levels[channels_[s]].sum / n;
      for (std::size_t o = 0; o < options_.orders.size(); ++o) {
        const Complex plain = sum_of_phasors(options_.orders[o], turn.frames.first_angle_rad, turn.frames.step_rad, n);
        vectors.push_back(scales_[s] * 2.0 / n * (sums.orders[o * padded + channels_[s]] - mean * plain));
      }
    }
    points_.push_back(std::move(point));
  }

  void add_bins(const TurnOfSamples& turn) {
    const TurnFrames& f = turn.frames;
    const double bin_rad = turn_rad / static_cast<double>(bins_per_turn_);
    const auto bins =
        static_cast<std::size_t>(std::llround((turn.turn.end_angle_rad - turn.turn.begin_angle_rad) / bin_rad));
    std::vector<double> means(channels_.size(), 0.0);
    for (std::size_t n = 0; n < f.count; ++n) {
      for (std::size_t s = 0; s < channels_.size(); ++s)
        means[s] += f.data[n * f.stride + channels_[s]] / static_cast<double>(f.count);
    }
    std::size_t n = 0;
    for (std::size_t b = 0; b < bins; ++b) {
      const std::size_t begin = n;
      const double end_rad = static_cast<double>(b + 1) * bin_rad;
      std::vector<double> sums(channels_.size(), 0.0);
      for (; n < f.count && (b + 1 == bins || f.first_angle_rad + static_cast<double>(n) * f.step_rad < end_rad); ++n) {
        for (std::size_t s = 0; s < channels_.size(); ++s) sums[s] += f.data[n * f.stride + channels_[s]];
      }
      const auto count = static_cast<double>(n - begin);
      for (std::size_t s = 0; s < channels_.size(); ++s)
        bins_.signals[s].push_back(count > 0.0 ? sums[s] / count - means[s] : 0.0);
      for (std::size_t o = 0; o < options_.orders.size(); ++o) {
        const double first = f.first_angle_rad + static_cast<double>(begin) * f.step_rad;
        bins_.carriers[o].push_back(count > 0.0 ? sum_of_phasors(options_.orders[o], first, f.step_rad, count) / count
                                                : Complex(0.0));
      }
    }
  }

  /// Solves what is held and gives out the points that are settled; the rest is kept and solved again with what
  /// follows.
  void solve(bool last) {
    const auto envelopes = vold_kalman(bins_.signals, bins_.carriers, options_.poles, bandwidth_);
    const std::size_t given_until = last ? bins_.size() : bins_.size() - settling_;
    std::size_t given = 0;
    for (; given < pending_.size() && pending_[given].bin < given_until; ++given) {
      PendingPoint& pending = pending_[given];
      for (std::size_t s = 0; s < channels_.size(); ++s) {
        auto& vectors = pending.point.vectors.emplace_back();
        for (const auto& envelope : envelopes[s])
          vectors.push_back(scales_[s] * 2.0 * std::conj(envelope[pending.bin]));
      }
      points_.push_back(std::move(pending.point));
    }
    pending_.erase(pending_.begin(), pending_.begin() + static_cast<std::ptrdiff_t>(given));
    if (last) return;
    const std::size_t dropped = bins_.size() - 2 * settling_;
    bins_.drop(dropped);
    for (PendingPoint& pending : pending_) pending.bin -= dropped;
  }

  const SweepOptions& options_;
  std::vector<std::size_t> channels_;
  std::vector<double> scales_;
  std::size_t bins_per_turn_ = 16;
  double bandwidth_ = 0.0;
  std::size_t settling_ = 0;
  AngleBins bins_;
  std::vector<PendingPoint> pending_;
  std::vector<SweepPoint> points_;
};

/// The mean vector of the slow turns is run-out of the shaft, not vibration.
void take_off_slow_roll(Sweep& sweep, double below_rad_s) {
  std::vector<std::vector<Phasor>> sum;
  double count = 0.0;
  for (const SweepPoint& point : sweep.points) {
    if (point.speed_rad_s > below_rad_s) continue;
    if (sum.empty()) sum.assign(point.vectors.size(), std::vector<Phasor>(sweep.orders.size()));
    for (std::size_t s = 0; s < sum.size(); ++s) {
      for (std::size_t o = 0; o < sum[s].size(); ++o) sum[s][o] += point.vectors[s][o];
    }
    count += 1.0;
  }
  if (count == 0.0) {
    throw Error(Trouble::request, "no_slow_roll",
                fmt::format("{}: no turn is slower than {:.0f} rpm", sweep.file, rpm(below_rad_s)),
                "give a --slow-roll speed that the recording reaches");
  }
  for (SweepPoint& point : sweep.points) {
    for (std::size_t s = 0; s < sum.size(); ++s) {
      for (std::size_t o = 0; o < sum[s].size(); ++o) point.vectors[s][o] -= sum[s][o] / count;
    }
  }
}

void find_critical_speeds(Sweep& sweep) {
  const auto first = std::find(sweep.orders.begin(), sweep.orders.end(), 1);
  if (first == sweep.orders.end()) return;
  const auto order = static_cast<std::size_t>(first - sweep.orders.begin());
  std::vector<double> speeds;
  for (const SweepPoint& point : sweep.points) speeds.push_back(point.speed_rad_s);
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s) {
    std::vector<Phasor> vectors;
    for (const SweepPoint& point : sweep.points) vectors.push_back(point.vectors[s][order]);
    auto critical = fit_critical_speed(speeds, vectors, sweep.motions[s]);
    if (!critical) continue;
    critical->sensor = sweep.sensors[s];
    sweep.critical.push_back(*critical);
  }
}

/// Speed gained a second while the critical speed was passed, over the square of the decay rate ζω_n of the resonance.
/// Above some 0.1 the resonance cannot follow, and speed and damping read high.
double haste(const Sweep& sweep, const CriticalSpeed& c) {
  const auto passes = [&](const SweepPoint& p) { return std::abs(p.speed_rad_s / c.speed_rad_s - 1.0) < 0.1; };
  const auto first = std::find_if(sweep.points.begin(), sweep.points.end(), passes);
  const auto last = std::find_if(sweep.points.rbegin(), sweep.points.rend(), passes);
  if (first == sweep.points.end() || last->time_s <= first->time_s) return 0.0;
  const double rate = std::abs(last->speed_rad_s - first->speed_rad_s) / (last->time_s - first->time_s);
  return rate / std::pow(c.damping_ratio * c.speed_rad_s, 2);
}

/// Away from a critical speed by 30 % or by five half-power widths, whichever is more (common practice, no source).
void advise(Sweep& sweep) {
  for (const CriticalSpeed& c : sweep.critical) {
    const double away = std::max(0.3, 10.0 * c.damping_ratio);
    sweep.advice.push_back(fmt::format(
        "sensor {}: critical speed {:.0f} rpm, damping {:.1f} %; balance a stiff shaft below {:.0f} rpm, and do not "
        "dwell between {:.0f} and {:.0f} rpm",
        c.sensor, rpm(c.speed_rad_s), 100.0 * c.damping_ratio, rpm(c.speed_rad_s) * (1.0 - std::min(away, 0.5)),
        rpm(c.speed_rad_s) * (1.0 - std::min(away, 0.5)), rpm(c.speed_rad_s) * (1.0 + away)));
  }
  for (const CriticalSpeed& c : sweep.critical) {
    if (haste(sweep, c) < 0.1) continue;
    sweep.advice.push_back(
        fmt::format("sensor {}: the sweep ran too fast through {:.0f} rpm for the resonance to follow; sweep slower",
                    c.sensor, rpm(c.speed_rad_s)));
  }
  if (sweep.critical.empty() && !sweep.points.empty()) {
    sweep.advice.emplace_back("no critical speed was passed in this sweep");
  }
}

}  // namespace

Sweep sweep(Recording& recording, const Rig& rig, const SweepOptions& options) {
  check(options);
  const RecordingInfo& info = recording.info();
  Sweep result;
  result.file = info.name;
  result.orders = options.orders;
  const SensorChannels sensors = sensor_channels(info, rig);
  result.sensors = sensors.names;
  result.motions = sensors.motions;
  SpinStream stream(recording, rig.tach, sensors.channels, options.block_frames);
  Sweeper sweeper(options, sensors.channels, sensors.scales);
  while (const auto turn = stream.next()) {
    stream.check_finite(turn->first_frame, turn->first_frame + static_cast<std::int64_t>(turn->frames.count));
    sweeper.add(*turn, info.sample_rate_Hz);
  }
  result.points = sweeper.finish();
  if (result.points.size() < 4) {
    throw Error(
        Trouble::recording, "no_tach",
        fmt::format("{}: the tach shows {} whole turns; at least 4 are needed", info.name, result.points.size()),
        "check the tach's aim at the mark, or record a longer sweep");
  }
  result.tach = stream.report();
  if (options.slow_roll_below_rad_s) take_off_slow_roll(result, *options.slow_roll_below_rad_s);
  find_critical_speeds(result);
  advise(result);
  result.warnings = recording.warnings();
  report_lost_and_extra(result.tach, result.warnings);
  return result;
}

}  // namespace counterspot
