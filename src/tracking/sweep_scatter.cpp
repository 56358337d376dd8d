#include "tracking/sweep_scatter.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "counterspot/units/angle.hpp"

namespace counterspot {

double let_through(int poles, double bandwidth_orders, double apart_orders) {
  const double f0 = bandwidth_orders / std::pow(std::numbers::sqrt2 - 1.0, 1.0 / (2.0 * poles));
  return 1.0 / (1.0 + std::pow(apart_orders / f0, 2 * poles));
}

double power_let_through(int poles, double bandwidth_orders) {
  const double twice = 2.0 * poles;
  const double f0 = bandwidth_orders / std::pow(std::numbers::sqrt2 - 1.0, 1.0 / twice);
  const double part = std::numbers::pi / twice;
  return std::min(1.0, 2.0 * f0 * (1.0 - 1.0 / twice) * part / std::sin(part));
}

namespace {

constexpr double forgotten = 3.0;  // turns times orders from an end until it makes no difference
constexpr double per_one = 20.0;   // samples for one turn times one order

/// Power of white noise in the envelope at each of so many samples.
std::vector<double> power_along(int poles, std::size_t samples) {
  std::vector<std::vector<double>> impulses(samples, std::vector<double>(samples));
  std::vector<std::complex<double>> carrier;  // a quarter of a turn for each sample: farthest from its mirror image
  for (std::size_t n = 0; n < samples; ++n) {
    impulses[n][n] = 1.0;
    carrier.push_back(std::polar(1.0, 0.25 * turn_rad * static_cast<double>(n)));
  }
  std::vector<double> power(samples);
  for (const auto& envelopes : vold_kalman(impulses, {carrier}, poles, 2.0 / per_one))
    for (std::size_t n = 0; n < samples; ++n) power[n] += std::norm(envelopes[0][n]);
  return power;
}

}  // namespace

NearEnds::NearEnds(int poles, double bandwidth_orders, double run_turns) : run_turns_(run_turns) {
  constexpr auto most = static_cast<std::size_t>(2.0 * forgotten * per_one);
  constexpr std::size_t fewest = 8;
  const auto whole = static_cast<std::size_t>(run_turns * bandwidth_orders * per_one);
  more_ = power_along(poles, most);
  const double inside = more_[most / 2];
  step_turns_ = 1.0 / (per_one * bandwidth_orders);
  if (whole < most) {
    more_ = power_along(poles, std::max(whole, fewest));
    step_turns_ = run_turns / static_cast<double>(more_.size());
  }
  for (double& power : more_) power /= inside;
}

double NearEnds::more_power(double turns_from_begin) const {
  const double from_end = std::clamp(turns_from_begin, 0.0, run_turns_);
  const auto step = static_cast<std::size_t>(std::min(from_end, run_turns_ - from_end) / step_turns_);
  return more_[std::min(step, more_.size() / 2)];
}

void add_scatter(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, std::span<const double> power) {
  constexpr std::size_t either_side = 12;
  constexpr double of_so_few = 1.06;  // √(F₂,₂₈(0.95)/F₂,∞(0.95)): from so few turns, for twice it to hold 95 %
  if (turns.size() < 3) return;
  const std::size_t last = turns.size() - 2;  // that has a neighbour on both sides
  for (std::size_t p = 0; p < points.size(); ++p) {
    SweepPoint& point = points[p];
    const auto nearest = std::lower_bound(turns.begin(), turns.end(), point.time_s,
                                          [](const SweepPoint& turn, double time_s) { return turn.time_s < time_s; });
    const auto at = std::clamp<std::size_t>(static_cast<std::size_t>(nearest - turns.begin()), 1, last);
    // as many near an end as elsewhere: from fewer it would be less well known than `of_so_few` says
    const std::size_t to = std::min(std::max(at, either_side + 1) + either_side, last);
    const std::size_t from = to > 2 * either_side ? to - 2 * either_side : 1;
    point.u.assign(point.vectors.size(), {});
    for (std::size_t s = 0; s < point.vectors.size(); ++s) {
      for (std::size_t o = 0; o < point.vectors[s].size(); ++o) {
        double sum = 0.0;
        for (std::size_t i = from; i <= to; ++i)
          sum += std::norm(turns[i - 1].vectors[s][o] - 2.0 * turns[i].vectors[s][o] + turns[i + 1].vectors[s][o]);
        const double of_one_part = sum / (12.0 * static_cast<double>(to - from + 1));
        point.u[s].push_back(of_so_few * std::sqrt(of_one_part * power[p]));
      }
    }
  }
}

namespace {

/// How far points are from the vectors of their single turns, sensors and orders in a row; empty where there is no
/// turn.
std::vector<std::vector<Phasor>> apart_from(const std::vector<SweepPoint>& turns,
                                            const std::vector<SweepPoint>& points) {
  std::vector<std::vector<Phasor>> off(points.size());
  std::size_t t = 0;
  for (std::size_t p = 0; p < points.size(); ++p) {
    while (t < turns.size() && turns[t].time_s < points[p].time_s) ++t;
    if (t == turns.size() || turns[t].time_s > points[p].time_s) continue;
    for (std::size_t s = 0; s < points[p].vectors.size(); ++s)
      for (std::size_t o = 0; o < points[p].vectors[s].size(); ++o)
        off[p].push_back(points[p].vectors[s][o] - turns[t].vectors[s][o]);
  }
  return off;
}

}  // namespace

void add_smear(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, double bandwidth_orders) {
  const auto reach = static_cast<std::size_t>(std::lround(0.5 / bandwidth_orders));
  const std::vector<std::vector<Phasor>> off_turns = apart_from(turns, points);
  for (std::size_t s = 0, at = 0; s < points.front().u.size(); ++s) {
    for (std::size_t o = 0; o < points.front().u[s].size(); ++o, ++at) {
      std::vector<double> mean(points.size());
      for (std::size_t p = 0; p < points.size(); ++p) {
        Phasor sum;
        double count = 0.0;
        for (std::size_t q = p > reach ? p - reach : 0; q < std::min(points.size(), p + reach + 1); ++q) {
          if (off_turns[q].empty()) continue;
          sum += off_turns[q][at];
          count += 1.0;
        }
        mean[p] = count > 0.0 ? std::abs(sum) / count : 0.0;
      }
      for (std::size_t p = 0; p < points.size(); ++p) {
        // it passes through 0 from one side of a resonance to the other, and is not that well known
        const double largest =
            std::max({mean[p], mean[p > reach ? p - reach : 0], mean[std::min(p + reach, points.size() - 1)]});
        points[p].u[s][o] = std::hypot(points[p].u[s][o], largest / std::numbers::sqrt2);
      }
    }
  }
}

void add_bridges(Sweep& sweep, const std::function<double(double)>& gain) {
  for (const FixedLine& line : sweep.lines) {
    const auto s = static_cast<std::size_t>(std::find(sweep.sensors.begin(), sweep.sensors.end(), line.sensor) -
                                            sweep.sensors.begin());
    for (SweepPoint& point : sweep.points) {
      const double speed_Hz = point.speed_rad_s / turn_rad;
      for (std::size_t o = 0; s < point.u.size() && o < sweep.orders.size(); ++o) {
        const double apart_Hz = std::abs(line.frequency_Hz - sweep.orders[o] * speed_Hz);
        if (apart_Hz > 2.0 * line.passing_Hz) continue;  // beyond the bridge the line is seen
        point.u[s][o] = std::hypot(point.u[s][o], line.u_bridged * gain(apart_Hz / speed_Hz));
      }
    }
  }
}

}  // namespace counterspot
