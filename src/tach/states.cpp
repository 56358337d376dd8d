#include "tach/states.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "algebra/median.hpp"

namespace counterspot {
namespace {

constexpr std::size_t bin_count = 256;
constexpr double cut_fraction = 0.0005;
constexpr double least_distance = 3.5;
constexpr double sigma_per_median = 1.4826;  // standard deviation of Gaussian noise per median absolute deviation

double noise_of(std::span<const double> samples) {
  std::vector<double> differences;
  differences.reserve(samples.size());
  for (std::size_t n = 2; n < samples.size(); ++n) {
    differences.push_back(std::abs(samples[n] - 2.0 * samples[n - 1] + samples[n - 2]));
  }
  return sigma_per_median * median_of(std::move(differences)) / std::sqrt(6.0);
}

double median_around(std::span<const double> samples, double centre, double half_width) {
  std::vector<double> near;
  near.reserve(samples.size());
  for (const double x : samples) {
    if (std::abs(x - centre) <= half_width) near.push_back(x);
  }
  return near.empty() ? centre : median_of(std::move(near));
}

/// Spread of the samples of a half about its state.
double spread_around(std::span<const double> samples, double state, double from, double to) {
  std::vector<double> deviations;
  deviations.reserve(samples.size());
  for (const double x : samples) {
    if (x >= from && x <= to) deviations.push_back(std::abs(x - state));
  }
  return deviations.empty() ? 0.0 : sigma_per_median * median_of(std::move(deviations));
}

}  // namespace

std::optional<States> find_states(std::span<const double> samples) {
  if (samples.size() < 16) return std::nullopt;
  std::vector<double> sorted(samples.begin(), samples.end());
  const auto cut = static_cast<std::ptrdiff_t>(cut_fraction * static_cast<double>(samples.size()));
  std::nth_element(sorted.begin(), sorted.begin() + cut, sorted.end());
  const double bottom = sorted[static_cast<std::size_t>(cut)];
  std::nth_element(sorted.begin() + cut, sorted.end() - 1 - cut, sorted.end());
  const double top = *(sorted.end() - 1 - cut);
  if (!(top > bottom)) return std::nullopt;

  const double bin_width = (top - bottom) / static_cast<double>(bin_count);
  std::array<std::size_t, bin_count> bins{};
  for (const double x : samples) {
    if (x < bottom || x > top) continue;
    ++bins[std::min(static_cast<std::size_t>((x - bottom) / bin_width), bin_count - 1)];
  }
  const auto half = bins.begin() + bin_count / 2;
  const auto centre_of = [&](auto bin) { return bottom + (static_cast<double>(bin - bins.begin()) + 0.5) * bin_width; };
  States states;
  states.low = median_around(samples, centre_of(std::max_element(bins.begin(), half)), 2.0 * bin_width);
  states.high = median_around(samples, centre_of(std::max_element(half, bins.end())), 2.0 * bin_width);
  states.noise = noise_of(samples);

  const double middle = 0.5 * (states.low + states.high);
  const auto lower = std::count_if(samples.begin(), samples.end(), [&](double x) { return x < middle; });
  const bool mostly_low = 2 * static_cast<std::size_t>(lower) >= samples.size();
  const double spread = mostly_low ? spread_around(samples, states.low, bottom, middle)
                                   : spread_around(samples, states.high, middle, top);
  if (states.high - states.low < least_distance * spread) return std::nullopt;
  return states;
}

}  // namespace counterspot
