#include "tracking/tach_states.hpp"

#include <algorithm>
#include <span>

#include "algebra/median.hpp"
#include "tracking/extremes.hpp"

namespace counterspot {
namespace {

constexpr std::size_t turns_at_once = 5;
constexpr double enough_samples = 4.0;

}  // namespace

void TachStates::add(const Stretch& stretch, std::size_t channel, double level) {
  for (std::size_t i = 0; i + 1 < stretch.turns.size(); ++i) {
    const std::size_t count = stretch.turns[i + 1] - stretch.turns[i];
    const auto [low, high] = stretch.extremes[channel][i];
    const std::size_t above = count_above(std::span(stretch.channels[channel]).subspan(stretch.turns[i], count), level);
    low_.extremes.push_back(low);
    high_.extremes.push_back(high);
    low_.lasting.push_back(static_cast<double>(count - above));
    high_.lasting.push_back(static_cast<double>(above));
  }
}

double TachStates::Side::moved() const {
  if (extremes.size() < turns_at_once || median_of(lasting) < enough_samples) return 0.0;
  std::vector<double> smooth;
  for (auto first = extremes.begin(); extremes.end() - first >= static_cast<std::ptrdiff_t>(turns_at_once); ++first)
    smooth.push_back(median_of({first, first + turns_at_once}));
  const auto [least, most] = std::minmax_element(smooth.begin(), smooth.end());
  return *most - *least;
}

double TachStates::low_moved() const {
  return low_.moved();
}
double TachStates::high_moved() const {
  return high_.moved();
}

}  // namespace counterspot
