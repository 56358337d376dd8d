#include "counterspot/sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

#include "counterspot/error.hpp"
#include "tracking/health.hpp"
#include "tracking/orders.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/turn_sums.hpp"
#include "tracking/turn_vectors.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr double settling_per_bandwidth =
    3.0;  // turns until an end of a stretch is forgotten, times the bandwidth in orders
constexpr std::size_t stretch_settlings = 8;  // a stretch is this many settling lengths
constexpr double largest_weight = 1e12;       // beyond it the normal equations lose the envelope in rounding

void check(const SweepOptions& options) {
  check_orders(options.orders);
  if (options.method == SweepMethod::per_turn && !are_whole(options.orders)) {
    throw Error(Trouble::request, "bad_orders", "a single turn cannot tell orders that are no whole numbers",
                "follow them with the Vold-Kalman filter: leave out --per-turn");
  }
  if (options.poles < 1 || options.poles > 3) {
    throw Error(Trouble::request, "bad_bandwidth", "a Vold-Kalman filter has 1, 2 or 3 poles", "give --poles 2");
  }
}

/// The signals at equal angles, of the stretch that is being worked on.
struct AngleSamples {
  std::vector<std::vector<double>> signals;    // [sensor][sample]
  std::vector<std::vector<Complex>> carriers;  // [order][sample], e^{jkθ}
  std::size_t size() const { return carriers.front().size(); }
  void drop(std::size_t count) {
    for (auto& s : signals) s.erase(s.begin(), s.begin() + static_cast<std::ptrdiff_t>(count));
    for (auto& c : carriers) c.erase(c.begin(), c.begin() + static_cast<std::ptrdiff_t>(count));
  }
};

struct PendingPoint {
  std::int64_t sample = 0;  // the middle of its turn, as AngleResampler counts
  SweepPoint point;
};

double highest(const std::vector<double>& orders) {
  return *std::max_element(orders.begin(), orders.end());
}

/// At least four times the highest order.
std::size_t samples_per_turn(const std::vector<double>& orders) {
  return std::bit_ceil(static_cast<std::size_t>(std::max(16.0, std::ceil(4.0 * highest(orders)))));
}

class Sweeper {
 public:
  Sweeper(const SweepOptions& options, std::vector<std::size_t> channels, const std::vector<double>& scales)
      : options_(options),
        channels_(std::move(channels)),
        per_turn_(samples_per_turn(options.orders)),
        turn_vectors_(options.orders, per_turn_, channels_, scales),
        resampler_(per_turn_, channels_, scales,
                   flat_up_to(highest(options.orders) + std::max(0.5, options.bandwidth_orders), per_turn_)) {
    bandwidth_ = options.bandwidth_orders / (0.5 * static_cast<double>(per_turn_));
    if (!(bandwidth_ > 0.0 && bandwidth_ < 0.5) || vold_kalman_weight(options.poles, bandwidth_) > largest_weight) {
      throw Error(
          Trouble::request, "bad_bandwidth",
          fmt::format("a bandwidth of {} orders does not go with {} poles", options.bandwidth_orders, options.poles),
          "give a --bandwidth between 0.02 and 2 orders, or fewer poles");
    }
    settling_ = static_cast<std::size_t>(std::ceil(settling_per_bandwidth / options.bandwidth_orders)) * per_turn_;
    samples_.signals.resize(channels_.size());
    samples_.carriers.resize(options.orders.size());
  }

  void add(const TurnOfSamples& turn, double rate_Hz) {
    SweepPoint point;
    point.time_s = 0.5 * (turn.turn.begin_frame + turn.turn.end_frame) / rate_Hz;
    point.speed_rad_s = turn.frames.step_rad * rate_Hz;
    if (options_.method == SweepMethod::per_turn) {
      turn_vectors_.add(turn, std::move(point), points_);
      return;
    }
    std::vector<std::vector<double>> fresh(channels_.size());
    // the turn before a gap, or at the start, is done with
    if (!resampler_.add(turn, fresh)) finish_run();
    append(fresh);
    const double middle_rad = 0.5 * (turn.turn.begin_angle_rad + turn.turn.end_angle_rad);
    pending_.push_back({std::llround(middle_rad / sample_rad()), std::move(point)});
    if (samples_.size() >= stretch_settlings * settling_) solve(false);
  }

  std::vector<SweepPoint> finish() {
    if (options_.method == SweepMethod::vold_kalman) finish_run();
    return std::move(points_);
  }

 private:
  double sample_rad() const { return turn_rad / static_cast<double>(per_turn_); }

  void append(const std::vector<std::vector<double>>& fresh) {
    for (std::size_t s = 0; s < fresh.size(); ++s)
      samples_.signals[s].insert(samples_.signals[s].end(), fresh[s].begin(), fresh[s].end());
    const auto count = static_cast<std::int64_t>(fresh.front().size());
    end_ = resampler_.next();
    for (std::int64_t i = end_ - count; i < end_; ++i) {
      // taken modulo the angle at which every order begins anew
      const auto period = static_cast<std::int64_t>(1000 * per_turn_);
      const double angle_rad = static_cast<double>(i % period) * sample_rad();
      for (std::size_t o = 0; o < options_.orders.size(); ++o)
        samples_.carriers[o].push_back(std::polar(1.0, options_.orders[o] * angle_rad));
    }
  }

  void finish_run() {
    if (samples_.size() > 0 && !pending_.empty()) solve(true);
    samples_.drop(samples_.size());
    pending_.clear();
  }

  /// Solves what is held and gives out the points that are settled; the rest is kept and solved again with what
  /// follows.
  void solve(bool last) {
    const std::int64_t first = end_ - static_cast<std::int64_t>(samples_.size());
    std::vector<std::vector<double>> signals = samples_.signals;
    for (auto& signal : signals) take_mean_off(signal);
    const auto envelopes = vold_kalman(signals, samples_.carriers, options_.poles, bandwidth_);
    const std::int64_t given_until = last ? end_ : end_ - static_cast<std::int64_t>(settling_);
    std::size_t given = 0;
    for (; given < pending_.size() && pending_[given].sample < given_until; ++given) {
      PendingPoint& pending = pending_[given];
      if (pending.sample < first) continue;  // before what the interpolation could reach
      for (std::size_t s = 0; s < channels_.size(); ++s) {
        auto& vectors = pending.point.vectors.emplace_back();
        for (const auto& envelope : envelopes[s])
          vectors.push_back(2.0 * std::conj(envelope[static_cast<std::size_t>(pending.sample - first)]));
      }
      points_.push_back(std::move(pending.point));
    }
    pending_.erase(pending_.begin(), pending_.begin() + static_cast<std::ptrdiff_t>(given));
    if (!last) samples_.drop(samples_.size() - 2 * settling_);
  }

  /// DC is no order that is asked for; over a stretch of many turns its mean is all of it that matters.
  static void take_mean_off(std::vector<double>& signal) {
    const double mean = std::accumulate(signal.begin(), signal.end(), 0.0) / static_cast<double>(signal.size());
    for (double& x : signal) x -= mean;
  }

  const SweepOptions& options_;
  std::vector<std::size_t> channels_;
  std::size_t per_turn_;
  TurnVectors turn_vectors_;
  AngleResampler resampler_;
  double bandwidth_ = 0.0;
  std::size_t settling_ = 0;
  AngleSamples samples_;
  std::int64_t end_ = 0;  // of what samples_ holds, as AngleResampler counts
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
