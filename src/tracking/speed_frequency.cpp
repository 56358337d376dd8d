#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/health.hpp"
#include "tracking/sample_run.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/welch.hpp"

namespace counterspot {
namespace {

constexpr std::size_t longest_stretch = std::size_t{1} << 20;

std::size_t stretch_frames(const SpeedFrequencyOptions& options, double rate_Hz) {
  if (!(options.highest_Hz > 0.0) || !(options.frequency_step_Hz > 0.0) || options.most_rows < 16 ||
      rate_Hz / options.frequency_step_Hz > static_cast<double>(longest_stretch)) {
    throw Error(Trouble::request, "bad_frequency",
                fmt::format("a map up to {:g} Hz in steps of {:g} Hz cannot be made of {:g} Hz samples",
                            options.highest_Hz, options.frequency_step_Hz, rate_Hz),
                "give a highest frequency such as 500 Hz, and a step of some hertz");
  }
  return std::max<std::size_t>(16, std::bit_ceil(static_cast<std::size_t>(rate_Hz / options.frequency_step_Hz)));
}

/// Mean speed of the shaft between two places, turns per frame.
double mean_speed(const SampleRun& run, double begin, double end) {
  const auto angle_at = [&](double frame) {
    const auto& turns = run.turns();
    auto turn = std::find_if(turns.begin(), turns.end(), [&](const Turn& t) { return frame <= t.end_frame; });
    if (turn == turns.end()) --turn;
    const double part = (frame - turn->begin_frame) / (turn->end_frame - turn->begin_frame);
    return turn->begin_angle_rad + part * (turn->end_angle_rad - turn->begin_angle_rad);
  };
  return (angle_at(end) - angle_at(begin)) / turn_rad / (end - begin);
}

/// The rows of all sensors; neighbours are merged two by two when there are too many.
class Rows {
 public:
  Rows(std::size_t sensors, std::size_t lines, std::size_t most_rows)
      : lines_(lines),
        most_rows_(most_rows / 2 * 2),
        open_(sensors, std::vector<double>(lines, 0.0)),
        powers_(sensors) {}

  std::vector<std::vector<double>>& open() { return open_; }

  void finish_stretch(double time_s, double speed_rad_s) {
    time_sum_ += time_s;
    speed_sum_ += speed_rad_s;
    if (++stretches_ == stretches_per_row_) close();
  }

  void close() {
    if (stretches_ == 0) return;
    const auto count = static_cast<double>(stretches_);
    times_s.push_back(time_sum_ / count);
    speeds_rad_s.push_back(speed_sum_ / count);
    for (std::size_t s = 0; s < open_.size(); ++s) {
      for (double& power : open_[s]) {
        powers_[s].push_back(static_cast<float>(power / count));
        power = 0.0;
      }
    }
    time_sum_ = speed_sum_ = 0.0;
    stretches_ = 0;
    if (times_s.size() == most_rows_) merge_pairs();
  }

  std::vector<float> amplitudes(std::size_t s) const {
    std::vector<float> amplitudes = powers_[s];
    for (float& a : amplitudes) a = std::sqrt(a);
    return amplitudes;
  }

  std::vector<double> times_s;
  std::vector<double> speeds_rad_s;

 private:
  void merge_pairs() {
    const std::size_t half = times_s.size() / 2;
    for (std::size_t r = 0; r < half; ++r) {
      times_s[r] = 0.5 * (times_s[2 * r] + times_s[2 * r + 1]);
      speeds_rad_s[r] = 0.5 * (speeds_rad_s[2 * r] + speeds_rad_s[2 * r + 1]);
      for (auto& p : powers_) {
        for (std::size_t i = 0; i < lines_; ++i)
          p[r * lines_ + i] = 0.5F * (p[2 * r * lines_ + i] + p[(2 * r + 1) * lines_ + i]);
      }
    }
    times_s.resize(half);
    speeds_rad_s.resize(half);
    for (auto& p : powers_) p.resize(half * lines_);
    stretches_per_row_ *= 2;
  }

  std::size_t lines_;
  std::size_t most_rows_;
  std::vector<std::vector<double>> open_;  // [sensor][line], sums of the row that is being made
  std::vector<std::vector<float>> powers_;
  double time_sum_ = 0.0;
  double speed_sum_ = 0.0;
  std::size_t stretches_ = 0;
  std::size_t stretches_per_row_ = 1;
};

/// The stretches that are whole now; the later half of the last is kept.
void add_stretches(SampleRun& run, std::size_t frames, double rate_Hz, Rows& rows) {
  const auto size = static_cast<std::int64_t>(frames);
  while (run.end_frame() - run.begin_frame() >= size) {
    const auto begin = static_cast<double>(run.begin_frame());
    for (std::size_t s = 0; s < run.sensors(); ++s) add_powers({run.at(s, run.begin_frame()), frames}, rows.open()[s]);
    const double speed = mean_speed(run, begin, begin + static_cast<double>(size - 1)) * turn_rad * rate_Hz;
    rows.finish_stretch((begin + 0.5 * static_cast<double>(size - 1)) / rate_Hz, speed);
    run.drop_before(run.begin_frame() + size / 2);
  }
}

}  // namespace

SpeedFrequencyMaps speed_frequency_maps(Recording& recording, const Rig& rig, const SpeedFrequencyOptions& options) {
  const RecordingInfo& info = recording.info();
  const std::size_t frames = stretch_frames(options, info.sample_rate_Hz);
  const double step_Hz = info.sample_rate_Hz / static_cast<double>(frames);
  const double highest_Hz = std::min(options.highest_Hz, 0.5 * info.sample_rate_Hz);
  const std::size_t lines = static_cast<std::size_t>(std::floor(highest_Hz / step_Hz + 1e-9)) + 1;
  const SensorChannels sensors = sensor_channels(info, rig);
  SpinStream stream(recording, rig.tach, sensors.channels, options.block_frames);
  SampleRun run(sensors.channels, sensors.scales);
  Rows rows(sensors.names.size(), lines, options.most_rows);
  while (const auto turn = stream.next()) {
    stream.check_finite(*turn);
    if (!run.joins(*turn)) run.clear();
    run.add(*turn);
    add_stretches(run, frames, info.sample_rate_Hz, rows);
  }
  rows.close();
  if (rows.times_s.empty()) {
    throw Error(Trouble::recording, "too_short",
                fmt::format("{}: steps of {:g} Hz need {:.2f} s of turns on end", info.name, step_Hz, 1.0 / step_Hz),
                "record longer, or ask for a larger step");
  }
  SpeedFrequencyMaps result;
  result.file = info.name;
  for (std::size_t s = 0; s < sensors.names.size(); ++s) {
    result.sensors.push_back(
        {sensors.names[s], sensors.motions[s], step_Hz, lines, rows.times_s, rows.speeds_rad_s, rows.amplitudes(s)});
  }
  result.tach = stream.report();
  result.warnings = recording.warnings();
  report_lost_and_extra(result.tach, result.warnings);
  return result;
}

}  // namespace counterspot
