#include "tracking/sweep_scatter.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace counterspot {

double power_let_through(int poles, double bandwidth_orders) {
  const double twice = 2.0 * poles;
  const double f0 = bandwidth_orders / std::pow(std::numbers::sqrt2 - 1.0, 1.0 / twice);
  const double part = std::numbers::pi / twice;
  return std::min(1.0, 2.0 * f0 * (1.0 - 1.0 / twice) * part / std::sin(part));
}

void add_scatter(std::vector<SweepPoint>& points, const std::vector<SweepPoint>& turns, double power) {
  constexpr std::size_t either_side = 12;
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
        point.u[s].push_back(std::sqrt(of_one_part * power));
      }
    }
  }
}

}  // namespace counterspot
