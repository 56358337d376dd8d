#include "counterspot/tracking/sweep.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>
#include <numeric>

#include "counterspot/units/error.hpp"
#include "tracking/angle_run.hpp"
#include "tracking/fixed_lines.hpp"
#include "tracking/health.hpp"
#include "tracking/orders.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/sweep_advice.hpp"
#include "tracking/sweep_scatter.hpp"

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
  for (const double frequency_Hz : options.fixed_lines_Hz.value_or(std::vector<double>{})) {
    if (!(frequency_Hz > 0.0)) {
      throw Error(Trouble::request, "bad_line", fmt::format("a steady line cannot stand at {} Hz", frequency_Hz),
                  "give its frequency, such as --line '50 Hz'");
    }
  }
}

double highest(const std::vector<double>& orders) {
  return *std::max_element(orders.begin(), orders.end());
}

/// At least four times the highest order.
std::size_t samples_per_turn(const std::vector<double>& orders) {
  return std::bit_ceil(static_cast<std::size_t>(std::max(16.0, std::ceil(4.0 * highest(orders)))));
}

SweepPoint point_of(const AngleTurn& turn) {
  return {turn.middle_s(), turn.speed_rad_s, {}};
}

/// Orders of a turn read at equal angles are orthogonal: a sum over the turn is their least-squares fit.
class TurnFit {
 public:
  TurnFit(const std::vector<double>& orders, std::size_t samples_per_turn) : samples_(samples_per_turn + 1) {
    const auto n = static_cast<double>(samples_per_turn);
    for (const double k : orders) {
      auto& factors = factors_.emplace_back();
      for (std::size_t i = 0; i < samples_; ++i) {
        // Both ends at half weight: else the mean belongs half a step before the middle of the turn, which on a run-up
        // puts a resonance too high.
        const double weight = i == 0 || i + 1 == samples_ ? 0.5 : 1.0;
        factors.push_back(2.0 * weight / n * std::polar(1.0, k * turn_rad * static_cast<double>(i) / n));
      }
    }
  }

  bool holds(const AngleRun& run, const AngleTurn& turn) const { return run.holds(turn, samples_); }
  Phasor vector(const AngleRun& run, const AngleTurn& turn, std::size_t sensor, std::size_t order) const {
    const double* x = run.signals[sensor].data() + turn.begin_sample;
    return std::inner_product(factors_[order].begin(), factors_[order].end(), x, Phasor());
  }

 private:
  std::size_t samples_;                        // of a turn, with the first of the next
  std::vector<std::vector<Complex>> factors_;  // [order][sample]
};

std::vector<SweepPoint> turn_by_turn(const std::vector<AngleRun>& runs, const std::vector<double>& orders,
                                     std::size_t per_turn) {
  const TurnFit fit(orders, per_turn);
  std::vector<SweepPoint> points;
  for (const AngleRun& run : runs) {
    for (const AngleTurn& turn : run.turns) {
      if (!fit.holds(run, turn)) continue;
      points.push_back(point_of(turn));
      for (std::size_t s = 0; s < run.signals.size(); ++s) {
        auto& vectors = points.back().vectors.emplace_back();
        for (std::size_t o = 0; o < orders.size(); ++o) vectors.push_back(fit.vector(run, turn, s, o));
      }
    }
  }
  return points;
}

/// The Vold–Kalman filter over one run, in stretches that overlap by twice the length in which an end is forgotten.
class RunFilter {
 public:
  RunFilter(const SweepOptions& options, std::size_t per_turn)
      : options_(options),
        per_turn_(per_turn),
        bandwidth_(options.bandwidth_orders / (0.5 * static_cast<double>(per_turn))) {
    if (!(bandwidth_ > 0.0 && bandwidth_ < 0.5) || vold_kalman_weight(options.poles, bandwidth_) > largest_weight) {
      throw Error(
          Trouble::request, "bad_bandwidth",
          fmt::format("a bandwidth of {} orders does not go with {} poles", options.bandwidth_orders, options.poles),
          "give a --bandwidth between 0.02 and 2 orders, or fewer poles");
    }
    settling_ = static_cast<std::size_t>(std::ceil(settling_per_bandwidth / options.bandwidth_orders)) * per_turn_;
  }

  /// @param power of noise let through of each point, as a part of what least squares over its turn lets through.
  void add(const AngleRun& run, std::vector<SweepPoint>& points, std::vector<double>& power) const {
    std::size_t given = 0;  // turns
    const std::size_t before = points.size();
    for (std::size_t begin = 0; begin < run.size();) {
      const std::size_t end = std::min(begin + stretch_settlings * settling_, run.size());
      const bool last = end == run.size();
      solve(run, begin, end, last ? end : end - settling_, given, points);
      if (last) break;
      begin = end - 2 * settling_;
    }
    const double turns = static_cast<double>(run.size()) / static_cast<double>(per_turn_);
    const NearEnds near_ends(options_.poles, options_.bandwidth_orders, turns);
    const auto given_first = given - (points.size() - before);
    for (std::size_t turn = given_first; turn < given; ++turn)
      power.push_back(
          power_let_through(options_.poles, options_.bandwidth_orders) *
          near_ends.more_power(static_cast<double>(middle_of(run.turns[turn])) / static_cast<double>(per_turn_)));
  }

 private:
  std::int64_t middle_of(const AngleTurn& turn) const {
    return turn.begin_sample + static_cast<std::int64_t>(per_turn_ / 2);
  }

  void solve(const AngleRun& run, std::size_t begin, std::size_t end, std::size_t give_until, std::size_t& given,
             std::vector<SweepPoint>& points) const {
    std::vector<std::vector<double>> signals;
    for (const auto& signal : run.signals) {
      signals.emplace_back(signal.begin() + static_cast<std::ptrdiff_t>(begin),
                           signal.begin() + static_cast<std::ptrdiff_t>(end));
      take_mean_off(signals.back());
    }
    const auto envelopes = vold_kalman(signals, carriers(run, begin, end), options_.poles, bandwidth_);
    for (; given < run.turns.size(); ++given) {
      const std::int64_t middle = middle_of(run.turns[given]);
      if (middle >= static_cast<std::int64_t>(give_until)) break;
      if (middle < static_cast<std::int64_t>(begin)) continue;  // before what the interpolation could reach
      points.push_back(point_of(run.turns[given]));
      for (const auto& sensor : envelopes) {
        auto& vectors = points.back().vectors.emplace_back();
        for (const auto& envelope : sensor)
          vectors.push_back(2.0 * std::conj(envelope[static_cast<std::size_t>(middle) - begin]));
      }
    }
  }

  std::vector<std::vector<Complex>> carriers(const AngleRun& run, std::size_t begin, std::size_t end) const {
    std::vector<std::vector<Complex>> all(options_.orders.size());
    // taken modulo the angle at which every order begins anew
    const auto period = static_cast<std::int64_t>(1000 * per_turn_);
    for (std::size_t i = begin; i < end; ++i) {
      const auto sample = (run.first + static_cast<std::int64_t>(i)) % period;
      const double angle_rad = turn_rad * static_cast<double>(sample) / static_cast<double>(per_turn_);
      for (std::size_t o = 0; o < all.size(); ++o) all[o].push_back(std::polar(1.0, options_.orders[o] * angle_rad));
    }
    return all;
  }

  /// DC is no order that is asked for; over a stretch of many turns its mean is all of it that matters.
  static void take_mean_off(std::vector<double>& signal) {
    const double mean = std::accumulate(signal.begin(), signal.end(), 0.0) / static_cast<double>(signal.size());
    for (double& x : signal) x -= mean;
  }

  const SweepOptions& options_;
  std::size_t per_turn_;
  double bandwidth_;
  std::size_t settling_ = 0;
};

/// Steady lines off every sensor, given ones or those found.
std::vector<FixedLine> take_lines_off(std::vector<AngleRun>& runs, const std::vector<std::string>& sensors,
                                      const SweepOptions& options, std::size_t per_turn) {
  std::vector<FixedLine> lines;
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    const LineFollower follower{s, per_turn, options.orders};
    for (const double frequency_Hz : options.fixed_lines_Hz ? *options.fixed_lines_Hz : follower.find(runs)) {
      auto line = follower.take_off(frequency_Hz, runs);
      if (!line) continue;
      line->sensor = sensors[s];
      lines.push_back(*line);
    }
  }
  return lines;
}

void report_lines(Sweep& sweep) {
  for (const FixedLine& line : sweep.lines) {
    const auto sensor = static_cast<std::size_t>(std::find(sweep.sensors.begin(), sweep.sensors.end(), line.sensor) -
                                                 sweep.sensors.begin());
    const Motion motion = sweep.motions[sensor];
    const std::string passing =
        line.passing_Hz > 0.0
            ? fmt::format("; an order within {:.1f} Hz of it is known only as far as the line is steady",
                          line.passing_Hz)
            : "";
    sweep.warnings.push_back(
        {WarningCode::interference, line.sensor,
         fmt::format("a steady line at {:.1f} Hz was fitted along, {:.3g} {}{}", line.frequency_Hz,
                     line.amplitude / si_per_display_unit(motion), display_unit(motion), passing)});
  }
}

/// The mean vector of the slow turns is run-out of the shaft, not vibration.
void take_off_slow_roll(std::vector<SweepPoint>& points, double below_rad_s, const std::string& file) {
  std::vector<std::vector<Phasor>> sum;
  double count = 0.0;
  for (const SweepPoint& point : points) {
    if (point.speed_rad_s > below_rad_s) continue;
    if (sum.empty()) sum.assign(point.vectors.size(), std::vector<Phasor>(point.vectors.front().size()));
    for (std::size_t s = 0; s < sum.size(); ++s) {
      for (std::size_t o = 0; o < sum[s].size(); ++o) sum[s][o] += point.vectors[s][o];
    }
    count += 1.0;
  }
  if (count == 0.0) {
    throw Error(Trouble::request, "no_slow_roll",
                fmt::format("{}: no turn is slower than {:.0f} rpm", file, rpm(below_rad_s)),
                "give a --slow-roll speed that the recording reaches");
  }
  for (SweepPoint& point : points) {
    for (std::size_t s = 0; s < sum.size(); ++s) {
      for (std::size_t o = 0; o < sum[s].size(); ++o) point.vectors[s][o] -= sum[s][o] / count;
    }
  }
}

/// What a line left of order 1 where it passes is not known, unless the line is little beside it.
double weight_of(double speed_rad_s, const Phasor& vector, const std::vector<FixedLine>& lines,
                 const std::string& sensor) {
  constexpr double little_beside = 0.2;
  for (const FixedLine& line : lines) {
    if (line.sensor == sensor && line.amplitude > little_beside * std::abs(vector) &&
        std::abs(speed_rad_s / turn_rad - line.frequency_Hz) < line.passing_Hz)
      return 0.0;
  }
  return 1.0;
}

/// Of sensors of one motion, which are fitted at once.
void find_resonances_at(const std::vector<std::size_t>& sensors, const Sweep& sweep,
                        const std::vector<SweepPoint>& points, std::vector<std::vector<Resonance>>& by_sensor) {
  std::vector<SweptTurn> turns;
  for (const SweepPoint& point : points) {
    turns.push_back({point.time_s, point.speed_rad_s, {}, 1.0});
    for (const std::size_t s : sensors) {
      const Phasor& vector = point.vectors[s][0];
      turns.back().vectors.push_back(vector);
      turns.back().weight =
          std::min(turns.back().weight, weight_of(point.speed_rad_s, vector, sweep.lines, sweep.sensors[s]));
    }
  }
  const auto found = find_resonances(turns, sweep.motions[sensors.front()]);
  for (std::size_t k = 0; k < found.size(); ++k) by_sensor[sensors[k]] = found[k];
}

/// At half a natural frequency order 2, as joints make it, swings, and what a quick change of speed leaves of it in
/// order 1 looks like a narrow resonance. A resonance of order 1 stands above order 2: on 60 simulated rigs order 2 was
/// there at most 0.9 of order 1, and at least 2.4 where there was none.
bool is_of_order_2(const Resonance& found, const std::vector<SweepPoint>& points, std::size_t sensor) {
  constexpr double near_it = 0.02;
  double order_1 = 0.0, order_2 = 0.0;
  for (const SweepPoint& point : points) {
    if (std::abs(point.speed_rad_s / found.speed_rad_s - 1.0) > near_it) continue;
    order_1 += std::abs(point.vectors[sensor][0]);
    order_2 += std::abs(point.vectors[sensor][1]);
  }
  return order_2 > order_1;
}

/// @param points of orders 1 and 2.
void add_resonances(Sweep& sweep, const std::vector<SweepPoint>& points) {
  std::map<Motion, std::vector<std::size_t>> of_motion;
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s) of_motion[sweep.motions[s]].push_back(s);
  std::vector<std::vector<Resonance>> by_sensor(sweep.sensors.size());
  for (const auto& [motion, sensors] : of_motion) find_resonances_at(sensors, sweep, points, by_sensor);
  for (std::size_t s = 0; s < by_sensor.size(); ++s) {
    for (Resonance& each : by_sensor[s]) {
      if (is_of_order_2(each, points, s)) continue;
      each.sensor = sweep.sensors[s];
      sweep.resonances.push_back(std::move(each));
    }
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
  const std::size_t per_turn = samples_per_turn(options.orders);
  const RunFilter filter(options, per_turn);
  AngleRuns gathered_runs(per_turn, sensors.channels, sensors.scales,
                          flat_up_to(highest(options.orders) + std::max(0.5, options.bandwidth_orders), per_turn));
  while (const auto turn = stream.next()) {
    stream.check_finite(*turn);
    gathered_runs.add(*turn, info.sample_rate_Hz);
  }
  std::vector<AngleRun> runs = gathered_runs.finish();
  if (!runs.empty()) result.lines = take_lines_off(runs, sensors.names, options, per_turn);
  std::vector<double> power;
  if (options.method == SweepMethod::per_turn) {
    result.points = turn_by_turn(runs, options.orders, per_turn);
    power.assign(result.points.size(), 1.0);
  } else {
    for (const AngleRun& run : runs) filter.add(run, result.points, power);
  }
  if (result.points.size() < 4) {
    throw Error(
        Trouble::recording, "no_tach",
        fmt::format("{}: the tach shows {} whole turns; at least 4 are needed", info.name, result.points.size()),
        "check the tach's aim at the mark, or record a longer sweep");
  }
  const bool whole_orders =
      std::all_of(options.orders.begin(), options.orders.end(), [](double k) { return k == std::round(k); });
  if (whole_orders) {
    const bool per_turn_points = options.method == SweepMethod::per_turn;
    const std::vector<SweepPoint> turns = turn_by_turn(runs, options.orders, per_turn);
    add_scatter(result.points, turns, power);
    if (!per_turn_points) add_smear(result.points, turns, options.bandwidth_orders);
    add_bridges(result, [&](double apart_orders) {
      return per_turn_points ? 1.0 : let_through(options.poles, options.bandwidth_orders, apart_orders);
    });
  }
  result.tach = stream.report();
  const auto below_rad_s = options.slow_roll_below_rad_s;
  if (below_rad_s) take_off_slow_roll(result.points, *below_rad_s, result.file);
  if (std::find(options.orders.begin(), options.orders.end(), 1.0) != options.orders.end()) {
    std::vector<SweepPoint> turns = turn_by_turn(runs, {1.0, 2.0}, per_turn);
    if (below_rad_s) take_off_slow_roll(turns, *below_rad_s, result.file);
    add_resonances(result, turns);
    result.advice = advice_on(result);
  }
  result.warnings = recording.warnings();
  report_lost_and_extra(result.tach, result.warnings);
  report_lines(result);
  return result;
}

}  // namespace counterspot
