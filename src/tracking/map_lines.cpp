#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/tracking/order_spectrum.hpp"

namespace counterspot {

std::vector<double> steady_lines_of(const SpeedFrequencyMap& map) {
  constexpr std::size_t beside = 3;          // lines, that a steady one does not reach
  constexpr double stands_over_sides = 3.0;  // over both sides (tried, no source)
  constexpr std::size_t least_rows = 8;
  std::vector<double> found;
  if (map.rows() < least_rows || map.lines < 2 * beside + 1) return found;
  std::vector<double> usual;  // of each line over all speeds: an order passes by, a steady line stays
  for (std::size_t line = 0; line < map.lines; ++line) {
    std::vector<double> over_speeds;
    for (std::size_t r = 0; r < map.rows(); ++r) over_speeds.push_back(map.amplitude_at(r, line));
    usual.push_back(median_of(over_speeds));
  }
  for (std::size_t line = beside; line + beside < map.lines; ++line) {
    const bool highest = usual[line] >= usual[line - 1] && usual[line] > usual[line + 1];
    if (highest && usual[line] > stands_over_sides * std::max(usual[line - beside], usual[line + beside]))
      found.push_back(map.frequency_Hz_at(line));
  }
  return found;
}

double order_step_of(std::int64_t turns) {
  constexpr double finest = 0.02;
  constexpr double beside = 3.0;  // turns that resampling needs
  const double whole = std::max(1.0, static_cast<double>(turns) - beside);
  const double stretch = std::max(std::min(whole, 10.0), std::floor(whole / 2.5));  // four of them overlap in 2.5
  return std::clamp(1.0 / stretch, finest, 1.0);
}

}  // namespace counterspot
