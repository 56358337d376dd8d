#include "counterspot/tracking/amplitude_track.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/speed_signal.hpp"
#include "tracking/welch.hpp"

namespace counterspot {

namespace {

constexpr double longest_s = 60.0;
constexpr double slowest_Hz = 2.5;
constexpr double fastest_Hz = 200.0;
constexpr double about = 0.10;        // how well a speed that somebody read is known
constexpr double stands_out = 100.0;  // power over the median of the lines near by
constexpr double turns_needed = 20.0;
constexpr double turns_of_stretch = 12.0;
constexpr double values_of_turn = 64.0;  // what is kept of a turn after averaging
constexpr double drift_worth_a_word = 0.01;
constexpr double least_u = 1e-3;  // of the amplitude; so that no reading claims to be exact

constexpr double coarse_values_of_turn = 16.0;

/// One sensor's samples, SI, evenly spaced.
struct Series {
  std::vector<double> values;
  double rate_Hz = 0.0;

  double duration_s() const { return static_cast<double>(values.size()) / rate_Hz; }
};

/// A channel, and what one of its samples is.
struct Scaled {
  std::string what;
  std::size_t channel = 0;
  double scale = 1.0;
};

/// The sensors, then the signal of the speed if there is one.
std::vector<Scaled> channels_of(const RecordingInfo& info, const SensorChannels& sensors, const TachSetup& tach) {
  std::vector<Scaled> all;
  for (std::size_t s = 0; s < sensors.channels.size(); ++s)
    all.push_back({"sensor " + sensors.names[s], sensors.channels[s], sensors.scales[s]});
  if (tach.speed_channel) {
    const std::size_t channel = find_channel(info, *tach.speed_channel, "the speed");
    all.push_back({"the signal of the speed", channel, speed_signal_scale(info, tach)});
  }
  return all;
}

std::vector<Series> series_of(Recording& recording, const std::vector<Scaled>& channels) {
  const double rate_Hz = recording.info().sample_rate_Hz;
  const std::size_t width = recording.info().channels.size();
  std::vector<Series> all(channels.size(), Series{{}, rate_Hz});
  const auto most = static_cast<std::size_t>(longest_s * rate_Hz);
  while (all.front().values.size() < most) {
    const auto block = recording.next(std::min<std::size_t>(4096, most - all.front().values.size()));
    if (block.empty()) break;
    for (std::size_t at = 0; at < block.size(); at += width) {
      for (std::size_t s = 0; s < all.size(); ++s)
        all[s].values.push_back(channels[s].scale * block[at + channels[s].channel]);
    }
  }
  for (std::size_t s = 0; s < all.size(); ++s) {
    if (std::all_of(all[s].values.begin(), all[s].values.end(), [](double value) { return std::isfinite(value); }))
      continue;
    throw Error(Trouble::recording, "not_finite",
                fmt::format("{}: {} has a sample that is not a number", recording.info().name, channels[s].what),
                "record again; look at the recorder's settings");
  }
  return all;
}

/// Means of `count` values each; what that takes off a line is given back by `gain_of_means`.
Series means_of(const Series& series, std::size_t count) {
  Series means{{}, series.rate_Hz / static_cast<double>(count)};
  for (std::size_t at = 0; at + count <= series.values.size(); at += count) {
    double sum = 0.0;
    for (std::size_t i = 0; i < count; ++i) sum += series.values[at + i];
    means.values.push_back(sum / static_cast<double>(count));
  }
  return means;
}

double gain_of_means(double frequency_Hz, double rate_Hz, std::size_t count) {
  const double half = pi * frequency_Hz / rate_Hz;
  const auto n = static_cast<double>(count);
  return count == 1 ? 1.0 : std::sin(n * half) / (n * std::sin(half));
}

std::size_t to_average(double rate_Hz, double wanted_Hz) {
  return std::max<std::size_t>(1, static_cast<std::size_t>(rate_Hz / wanted_Hz));
}

/// What velocity an amplitude is, up to a factor that is the same for all lines of a sensor.
double as_velocity(Motion motion, double frequency_Hz) {
  if (taken_for(motion) == Motion::acceleration) return 1.0 / frequency_Hz;
  return motion == Motion::displacement ? frequency_Hz : 1.0;
}

struct Line {
  double frequency_Hz = 0.0;
  double over_median = 0.0;
};

Line highest_line(const std::vector<Series>& sensors, const std::vector<Motion>& motions, double from_Hz,
                  double to_Hz) {
  const double line_Hz = 1.0 / sensors.front().duration_s();
  const auto first = static_cast<std::size_t>(std::ceil(from_Hz / line_Hz));
  const auto last = std::min(static_cast<std::size_t>(to_Hz / line_Hz), sensors.front().values.size() / 2 - 1);
  std::vector<double> together(last + 2, 0.0);
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    std::vector<double> powers(last + 2, 0.0);
    add_powers(sensors[s].values, powers);
    for (std::size_t i = first; i <= last; ++i)
      together[i] += powers[i] * std::pow(as_velocity(motions[s], static_cast<double>(i) * line_Hz), 2.0);
  }
  if (first >= last) return {};
  const auto begin = together.begin() + static_cast<std::ptrdiff_t>(first);
  const auto end = together.begin() + static_cast<std::ptrdiff_t>(last + 1);
  const auto peak = std::max_element(begin, end);
  const double height = *peak;
  const auto at = static_cast<double>(peak - together.begin());
  // Held against lines near by: noise that is even in acceleration falls with the square of the frequency as velocity.
  const std::ptrdiff_t near = std::max<std::ptrdiff_t>(4, (peak - together.begin()) / 3);
  const double median = median_of({std::max(begin, peak - near), std::min(end, peak + near + 1)});
  return {at * line_Hz, height / std::max(median, 1e-300)};
}

/// What the shaft's turning is held against: the time in s, or turns by a signal of the speed. `near` of its cycles per
/// unit is order 1: a frequency, or 1; found are these within `reach`.
struct Progress {
  std::vector<double> at;
  double near = 0.0;
  double reach = 1e9;
  bool look = true;  ///< else `near` is taken as it is
};

/// Least squares on 1, t and cosine and sine of order 1 and 2, by the normal equations: six well separated columns.
struct StretchFit {
  double amplitude = 0.0;
  double left = 0.0;  ///< sum of squares that is left
};

StretchFit fit_stretch(const double* values, const double* progress, std::size_t count, double cycles) {
  using Row = Eigen::Matrix<double, 6, 1>;
  Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Zero();
  Row right = Row::Zero();
  double squares = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    const auto at = static_cast<double>(i);
    const double theta = turn_rad * cycles * (progress[i] - progress[0]);
    const double c = std::cos(theta);
    const double s = std::sin(theta);
    Row row;
    row << 1.0, at / static_cast<double>(count) - 0.5, c, s, c * c - s * s, 2.0 * s * c;
    normal.selfadjointView<Eigen::Lower>().rankUpdate(row);
    right += values[i] * row;
    squares += values[i] * values[i];
  }
  const Row found = normal.selfadjointView<Eigen::Lower>().ldlt().solve(right);
  return {std::hypot(found(2), found(3)), squares - found.dot(right)};
}

struct MeasuredStretch {
  double cycles = 0.0;  ///< per unit of progress
  double frequency_Hz = 0.0;
  double middle_s = 0.0;
  std::vector<double> amplitudes;  ///< one per sensor
};

/// Where least is left over all sensors, each over its own size: golden section (Kiefer 1953).
MeasuredStretch measure_stretch(const std::vector<Series>& sensors, const Progress& progress, std::size_t begin,
                                std::size_t count, double near) {
  const double* at = progress.at.data() + begin;
  const double length = (at[count - 1] - at[0]) * static_cast<double>(count) / static_cast<double>(count - 1);
  auto left_at = [&](double cycles) {
    double left = 0.0;
    for (const Series& series : sensors) {
      const double* values = series.values.data() + begin;
      const Eigen::Map<const Eigen::VectorXd> all(values, static_cast<Eigen::Index>(count));
      left += fit_stretch(values, at, count, cycles).left / std::max(all.squaredNorm(), 1e-300);
    }
    return left;
  };
  const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
  const double within_a_line = 0.6 / length;  // of the spectrum, where there is one least
  double low = std::max(near - within_a_line, progress.near - progress.reach);
  double high = std::min(near + within_a_line, progress.near + progress.reach);
  if (!progress.look) low = high = near;
  double one = high - golden * (high - low);
  double other = low + golden * (high - low);
  double left_one = left_at(one);
  double left_other = left_at(other);
  for (int round = 0; round < 18 && progress.look; ++round) {  // to a ten-thousandth of a line
    if (left_one < left_other) {
      high = other;
      other = one;
      left_other = left_one;
      left_one = left_at(one = high - golden * (high - low));
    } else {
      low = one;
      one = other;
      left_one = left_other;
      left_other = left_at(other = low + golden * (high - low));
    }
  }
  const double rate_Hz = sensors.front().rate_Hz;
  const double cycles = 0.5 * (low + high);
  MeasuredStretch stretch{cycles,
                          cycles * length * rate_Hz / static_cast<double>(count),
                          (static_cast<double>(begin) + 0.5 * static_cast<double>(count)) / rate_Hz,
                          {}};
  for (const Series& series : sensors)
    stretch.amplitudes.push_back(fit_stretch(series.values.data() + begin, at, count, cycles).amplitude);
  return stretch;
}

/// Stretch after stretch, each looked for where the one before it was.
std::vector<MeasuredStretch> measure_stretches(const std::vector<Series>& sensors, const Progress& progress,
                                               double near_Hz) {
  const double rate_Hz = sensors.front().rate_Hz;
  const auto count = static_cast<std::size_t>(std::max(1.0, turns_of_stretch / near_Hz) * rate_Hz);
  const std::size_t all = sensors.front().values.size();
  std::vector<MeasuredStretch> stretches;
  double near = progress.near;
  for (std::size_t begin = 0; begin + std::min(count, all) <= all; begin += count) {
    stretches.push_back(measure_stretch(sensors, progress, begin, std::min(count, all), near));
    near = stretches.back().cycles;
    if (count >= all) break;
  }
  return stretches;
}

/// By how much a mean of few stretches needs a larger factor than one of many: Student's t for 95 % over that of the
/// normal distribution (GUM, JCGM 100:2008, G.3.2).
double few_stretches_factor(std::size_t stretches) {
  namespace distributions = boost::math;
  constexpr double one_tail = 0.025;
  const distributions::students_t t(static_cast<double>(stretches - 1));
  return distributions::quantile(distributions::complement(t, one_tail)) /
         distributions::quantile(distributions::complement(distributions::normal(), one_tail));
}

/// Mean and standard uncertainty of it, the latter 2 % where there is one stretch only (common practice, no source).
std::pair<double, double> mean_of(const std::vector<MeasuredStretch>& stretches, std::size_t sensor) {
  const auto n = static_cast<double>(stretches.size());
  double mean = 0.0;
  for (const MeasuredStretch& stretch : stretches) mean += stretch.amplitudes[sensor] / n;
  if (stretches.size() < 2) return {mean, 0.02 * mean};
  double squares = 0.0;
  for (const MeasuredStretch& stretch : stretches) squares += std::pow(stretch.amplitudes[sensor] - mean, 2.0);
  const double u = few_stretches_factor(stretches.size()) * std::sqrt(squares / (n - 1.0) / n);
  return {mean, std::max(u, least_u * mean)};
}

/// What a first-order high-pass between sensor and converter has taken off.
double undone_coupling(const Sensor& sensor, double frequency_Hz) {
  return sensor.ac_coupling_Hz ? std::hypot(1.0, *sensor.ac_coupling_Hz / frequency_Hz) : 1.0;
}

Line line_of_order_1(const std::vector<Series>& raw, const SensorChannels& channels, const std::string& file,
                     std::optional<double> about_rad_s) {
  std::vector<Series> coarse;
  for (const Series& series : raw) coarse.push_back(means_of(series, to_average(series.rate_Hz, 6.0 * fastest_Hz)));
  const double stated_Hz = about_rad_s.value_or(0.0) / turn_rad;
  const Line line = highest_line(coarse, channels.motions, about_rad_s ? (1.0 - about) * stated_Hz : slowest_Hz,
                                 about_rad_s ? (1.0 + about) * stated_Hz : fastest_Hz);
  // Near a speed that is stated nearly all lines may belong to the peak.
  if (line.frequency_Hz > 0.0 && (about_rad_s || line.over_median > stands_out)) return line;
  throw Error(Trouble::recording, "no_line",
              fmt::format("{}: no line of the spectrum stands out that could be the shaft's turning", file),
              "state the speed, as in speed = \"1620 rpm\", or look at sensors and cables");
}

void say_drift(AmplitudeTrack& track, const std::vector<MeasuredStretch>& stretches) {
  const auto [slowest, fastest] = std::minmax_element(
      stretches.begin(), stretches.end(),
      [](const MeasuredStretch& one, const MeasuredStretch& other) { return one.frequency_Hz < other.frequency_Hz; });
  const double drift = fastest->frequency_Hz / slowest->frequency_Hz - 1.0;
  if (drift < drift_worth_a_word) return;
  track.warnings.push_back(
      {WarningCode::speed_drift, std::nullopt,
       fmt::format("the speed changed by {:.1f} % during the spin; let it settle before recording", 100.0 * drift)});
}

/// How far the amplitude moves along the stretches, by a straight line, over its mean; 0 of fewer than three.
double change_of(const std::vector<MeasuredStretch>& stretches, std::size_t sensor) {
  if (stretches.size() < 3) return 0.0;
  const double middle_s = 0.5 * (stretches.front().middle_s + stretches.back().middle_s);
  double across = 0.0;
  double squares = 0.0;
  double mean = 0.0;
  for (const MeasuredStretch& stretch : stretches) {
    across += (stretch.middle_s - middle_s) * stretch.amplitudes[sensor];
    squares += std::pow(stretch.middle_s - middle_s, 2);
    mean += stretch.amplitudes[sensor] / static_cast<double>(stretches.size());
  }
  return across / squares * (stretches.back().middle_s - stretches.front().middle_s) / std::max(mean, 1e-300);
}

std::vector<Series> all_means(const std::vector<Series>& raw, double values_per_s) {
  std::vector<Series> means;
  for (const Series& series : raw) means.push_back(means_of(series, to_average(series.rate_Hz, values_per_s)));
  return means;
}

Progress by_time(std::size_t count, double rate_Hz, double near_Hz) {
  Progress progress{{}, near_Hz};
  for (std::size_t i = 0; i < count; ++i) progress.at.push_back(static_cast<double>(i) / rate_Hz);
  return progress;
}

/// Order 1 is looked for where a signal that is right may put it. A line elsewhere, and none there, is refused.
Progress by_signal(const std::vector<Series>& raw, const std::vector<double>& turns, double frequency_Hz,
                   const std::string& file) {
  const double rate_Hz = raw.front().rate_Hz;
  const std::vector<Series> coarse = all_means(raw, coarse_values_of_turn * frequency_Hz);
  std::vector<const std::vector<double>*> values;
  for (const Series& series : coarse) values.push_back(&series.values);
  const std::size_t to_coarse = to_average(rate_Hz, coarse_values_of_turn * frequency_Hz);
  const OrderLine line = line_near_order_1(values, means_of({turns, rate_Hz}, to_coarse).values);
  const bool there = line.stands_out && std::abs(line.order - 1.0) <= signal_tolerance;
  if (line.stands_out && !there) {
    throw Error(Trouble::recording, "speed_doubted",
                fmt::format("{}: the signal of the speed says {:.0f} rpm, and the sensors speak for {:.0f}", file,
                            rpm(turn_rad * frequency_Hz), rpm(turn_rad * frequency_Hz * line.order)),
                "check speed_scale and full_scale under [tach]; if the sensors feel something else that runs at that "
                "speed, spin at another one");
  }
  const std::size_t averaged = to_average(rate_Hz, values_of_turn * frequency_Hz);
  return {means_of({turns, rate_Hz}, averaged).values, there ? line.order : 1.0, signal_tolerance, there};
}

}  // namespace

AmplitudeTrack track_amplitudes(Recording& recording, const Rig& rig, std::optional<double> about_rad_s) {
  const SensorChannels channels = sensor_channels(recording.info(), rig);
  std::vector<Series> raw = series_of(recording, channels_of(recording.info(), channels, rig.tach));
  const std::string& file = recording.info().name;
  const double duration_s = raw.front().duration_s();
  if (duration_s * slowest_Hz < 1.0) {
    throw Error(Trouble::recording, "too_short_for_order", fmt::format("{}: {:.2f} s are too short", file, duration_s),
                "record longer");
  }
  AmplitudeTrack track;
  std::vector<double> turns;
  if (rig.tach.speed_channel) {
    turns = turns_by_speed(raw.back().values, raw.back().rate_Hz, file);
    raw.pop_back();
  }
  const double line_Hz =
      turns.empty() ? line_of_order_1(raw, channels, file, about_rad_s).frequency_Hz : turns.back() / duration_s;
  if (duration_s * line_Hz < turns_needed) {
    throw Error(Trouble::recording, "too_short_for_order",
                fmt::format("{}: {:.0f} turns are too few without a tach", file, duration_s * line_Hz),
                fmt::format("record {:.0f} turns and more", turns_needed));
  }
  const std::size_t averaged = to_average(raw.front().rate_Hz, values_of_turn * line_Hz);
  const std::vector<Series> means = all_means(raw, values_of_turn * line_Hz);
  const Progress progress = turns.empty() ? by_time(means.front().values.size(), means.front().rate_Hz, line_Hz)
                                          : by_signal(raw, turns, line_Hz, file);
  const std::vector<MeasuredStretch> stretches = measure_stretches(means, progress, line_Hz);
  track.speed_found = !about_rad_s && turns.empty();
  track.duration_s = duration_s;
  track.motions = channels.motions;
  for (const MeasuredStretch& stretch : stretches)
    track.speed_rad_s += turn_rad * stretch.frequency_Hz / static_cast<double>(stretches.size());
  const double frequency_Hz = track.speed_rad_s / turn_rad;
  for (std::size_t s = 0; s < raw.size(); ++s) {
    const double factor =
        undone_coupling(rig.sensors[s], frequency_Hz) / gain_of_means(frequency_Hz, raw.front().rate_Hz, averaged);
    const auto [amplitude, u] = mean_of(stretches, s);
    track.amplitudes.push_back(factor * amplitude);
    track.u_amplitudes.push_back(factor * u);
    track.changes.push_back(change_of(stretches, s));
  }
  say_drift(track, stretches);
  return track;
}

}  // namespace counterspot
