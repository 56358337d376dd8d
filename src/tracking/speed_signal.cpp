#include "tracking/speed_signal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>

#include "algebra/median.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"
#include "units/unit_table.hpp"

namespace counterspot {
namespace {

constexpr double least_rpm = 10.0;
constexpr double most_rpm = 60e3;
constexpr double look_within = 0.1;  // of order 1
constexpr double look_about = 0.3;   // for what lies about a line
constexpr double cell_turns = 0.5;   // lines of the grid apart, over the turns looked at
constexpr double most_turns = 250.0;
constexpr double over_side_lobes = 0.0025;  // the first of a Hann window has 0.0007 of its line's power
constexpr double over_about = 100.0;        // in power

/// The sum of squares about the mean.
double size_of(const std::vector<double>& values, std::size_t count) {
  const auto end = values.begin() + static_cast<std::ptrdiff_t>(count);
  const double mean = std::accumulate(values.begin(), end, 0.0) / static_cast<double>(count);
  const double squares =
      std::accumulate(values.begin(), end, 0.0, [mean](double sum, double x) { return sum + (x - mean) * (x - mean); });
  return std::max(squares, 1e-300);
}

/// Power of all sensors at an order, each over its own size, Hann-windowed.
double power_at(double order, const std::vector<const std::vector<double>*>& values, const std::vector<double>& turns,
                const std::vector<double>& sizes, std::size_t count) {
  std::vector<std::complex<double>> sums(values.size());
  const double begin = turns.front();
  const double length = turns[count - 1] - begin;
  for (std::size_t i = 0; i < count; ++i) {
    const double window = 1.0 - std::cos(turn_rad * (turns[i] - begin) / length);
    const std::complex<double> turned = std::polar(window, -turn_rad * order * turns[i]);
    for (std::size_t s = 0; s < values.size(); ++s) sums[s] += (*values[s])[i] * turned;
  }
  double power = 0.0;
  for (std::size_t s = 0; s < values.size(); ++s) power += std::norm(sums[s]) / sizes[s];
  return power;
}

}  // namespace

double speed_signal_scale(const RecordingInfo& info, const TachSetup& tach) {
  const ChannelInfo& channel = info.channels[find_channel(info, *tach.speed_channel, "the speed")];
  if (const Unit* unit = find_unit(channel.unit, Dimension::speed); unit != nullptr && !channel.unit.empty())
    return unit->si_per_unit;
  const auto volts = find_voltage_unit(channel.unit);
  if (!volts && !channel.unit.empty()) {
    throw Error(Trouble::request, "wrong_unit",
                fmt::format("{}: column '{}' of the speed has the unit '{}', which is neither of speed nor of voltage",
                            info.name, channel.name, channel.unit),
                "write the unit rpm, Hz or rad/s behind its name, or correct speed_channel in the rig file");
  }
  if (!tach.speed_scale_rad_s) {
    throw Error(
        Trouble::request, "missing_key",
        fmt::format("{}: the channel of the speed states no unit of speed, and the rig file no scale", info.name),
        "write what 1 V of it means under [tach], such as speed_scale = \"1000 rpm\"");
  }
  const double full_scale = info.full_scale ? tach.full_scale_V.value_or(1.0) : 1.0;
  return *tach.speed_scale_rad_s * full_scale * volts.value_or(1.0);
}

std::vector<double> turns_by_speed(const std::vector<double>& speeds_rad_s, double rate_Hz, const std::string& file) {
  const double mean_rad_s =
      std::accumulate(speeds_rad_s.begin(), speeds_rad_s.end(), 0.0) / static_cast<double>(speeds_rad_s.size());
  if (!(rpm(std::abs(mean_rad_s)) >= least_rpm && rpm(std::abs(mean_rad_s)) <= most_rpm)) {
    throw Error(Trouble::recording, "impossible_speed",
                fmt::format("{}: the signal of the speed shows {:.3g} rpm, which is no speed to balance at", file,
                            rpm(std::abs(mean_rad_s))),
                "check speed_channel, speed_scale and full_scale under [tach] in the rig file, and the signal's cable");
  }
  const double per_sample = (mean_rad_s < 0.0 ? -1.0 : 1.0) / (turn_rad * rate_Hz);
  std::vector<double> turns(speeds_rad_s.size(), 0.0);
  for (std::size_t i = 1; i < turns.size(); ++i)
    turns[i] = turns[i - 1] + 0.5 * (speeds_rad_s[i - 1] + speeds_rad_s[i]) * per_sample;
  return turns;
}

OrderLine line_near_order_1(const std::vector<const std::vector<double>*>& values, const std::vector<double>& turns) {
  const auto end = std::find_if(turns.begin(), turns.end(), [&](double at) { return at > turns.front() + most_turns; });
  const auto count = static_cast<std::size_t>(end - turns.begin());
  const double step = cell_turns / (turns[count - 1] - turns.front());
  std::vector<double> sizes;
  for (const auto* sensor : values) sizes.push_back(size_of(*sensor, count));
  std::vector<double> powers;
  const auto lines = static_cast<int>(look_about / step);
  for (int i = -lines; i <= lines; ++i) powers.push_back(power_at(1.0 + i * step, values, turns, sizes, count));
  const double usual_power = median_of(powers);
  OrderLine near;
  OrderLine far;
  double near_power = 0.0;
  double far_power = 0.0;
  for (int i = 1 - lines; i < lines; ++i) {
    const auto at = static_cast<std::size_t>(i + lines);
    const double off = std::abs(i * step);
    if (off > look_within || powers[at] < powers[at - 1] || powers[at] < powers[at + 1]) continue;
    double& best = off <= signal_tolerance ? near_power : far_power;
    if (powers[at] <= best) continue;
    best = powers[at];
    (off <= signal_tolerance ? near : far) = {1.0 + i * step, powers[at] > over_about * usual_power};
  }
  return near.stands_out && near_power > over_side_lobes * far_power ? near : far;
}

}  // namespace counterspot
