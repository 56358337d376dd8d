#include "tracking/tach_states.hpp"

#include <algorithm>

#include "algebra/median.hpp"

namespace counterspot {
namespace {

constexpr std::size_t turns_at_once = 5;
constexpr double enough_samples = 4.0;

}  // namespace

void TachStates::add(const std::vector<double>& samples, const std::vector<std::size_t>& turns, double level) {
  for (std::size_t i = 0; i + 1 < turns.size(); ++i) {
    const auto begin = samples.begin() + static_cast<std::ptrdiff_t>(turns[i]);
    const auto end = samples.begin() + static_cast<std::ptrdiff_t>(turns[i + 1]);
    if (begin == end) continue;
    const auto [low, high] = std::minmax_element(begin, end);
    const auto above = static_cast<double>(std::count_if(begin, end, [&](double x) { return x > level; }));
    low_.extremes.push_back(*low);
    high_.extremes.push_back(*high);
    low_.lasting.push_back(static_cast<double>(end - begin) - above);
    high_.lasting.push_back(above);
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
