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

void add_scatter(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, double power) {
  constexpr std::size_t either_side = 12;
  constexpr double of_so_few = 1.06;  // √(F₂,₂₈(0.95)/F₂,∞(0.95)): from so few turns, for twice it to hold 95 %
  if (turns.size() < 3) return;
  const std::size_t last = turns.size() - 2;  // that has a neighbour on both sides
  for (SweepPoint& point : points) {
    const auto nearest = std::lower_bound(turns.begin(), turns.end(), point.time_s,
                                          [](const SweepPoint& turn, double time_s) { return turn.time_s < time_s; });
    const auto at = std::clamp<std::size_t>(static_cast<std::size_t>(nearest - turns.begin()), 1, last);
    const std::size_t from = at > either_side ? at - either_side : 1;
    const std::size_t to = std::min(at + either_side, last);
    point.u.assign(point.vectors.size(), {});
    for (std::size_t s = 0; s < point.vectors.size(); ++s) {
      for (std::size_t o = 0; o < point.vectors[s].size(); ++o) {
        double sum = 0.0;
        for (std::size_t i = from; i <= to; ++i)
          sum += std::norm(turns[i - 1].vectors[s][o] - 2.0 * turns[i].vectors[s][o] + turns[i + 1].vectors[s][o]);
        const double of_one_part = sum / (12.0 * static_cast<double>(to - from + 1));
        point.u[s].push_back(of_so_few * std::sqrt(of_one_part * power));
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
