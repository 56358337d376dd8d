#include "algebra/rank.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <memory>

namespace counterspot {
namespace {

constexpr std::size_t many = 2000;
constexpr std::size_t sampled = 512;
constexpr std::size_t margin = 32;  // of the sample: some three standard deviations of a rank in it

struct Bracket {
  double low = 0.0;
  double high = 0.0;
};

/// Where a rank most likely lies, by a few of the values.
Bracket likely(const std::vector<double>& values, std::size_t rank) {
  std::array<double, sampled> sample;
  for (std::size_t i = 0; i < sampled; ++i) sample[i] = values[i * values.size() / sampled];
  const std::size_t place = rank * sampled / values.size();
  constexpr double none = std::numeric_limits<double>::infinity();
  Bracket bracket{-none, none};
  auto rest = sample.begin();
  if (place >= margin) {
    rest += static_cast<std::ptrdiff_t>(place - margin);
    std::nth_element(sample.begin(), rest, sample.end());
    bracket.low = *rest;
  }
  if (place + margin < sampled) {
    const auto above = sample.begin() + static_cast<std::ptrdiff_t>(place + margin);
    std::nth_element(rest, above, sample.end());
    bracket.high = *above;
  }
  return bracket;
}

}  // namespace

/// Sorting by parts goes over all values several times, and at each the processor guesses its branch wrong every second
/// time. Of many values those outside a likely bracket are only counted (Floyd & Rivest 1975, Comm. ACM 18(3)).
double value_at_rank(std::vector<double>& values, std::size_t rank) {
  if (values.size() >= many) {
    const auto [low, high] = likely(values, rank);
    const auto near = std::make_unique_for_overwrite<double[]>(values.size() + 1);
    std::size_t below = 0;
    std::size_t inside = 0;
    for (const double value : values) {
      near[inside] = value;  // and written over by the next, if it is outside
      inside += static_cast<std::size_t>(low <= value) & static_cast<std::size_t>(value <= high);
      below += static_cast<std::size_t>(value < low);
    }
    if (below <= rank && rank < below + inside) {
      double* wanted = &near[rank - below];
      std::nth_element(&near[0], wanted, &near[inside]);
      return *wanted;
    }
  }
  const auto wanted = values.begin() + static_cast<std::ptrdiff_t>(rank);
  std::nth_element(values.begin(), wanted, values.end());
  return *wanted;
}

}  // namespace counterspot
