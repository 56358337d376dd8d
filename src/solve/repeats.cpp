#include "counterspot/solve/repeats.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>

#include "solve/same_weights.hpp"

namespace counterspot {
namespace {

constexpr double outside = 0.05;                 // of a 95 % region
constexpr double least_over_noise = 1.0 / 64.0;  // variance of the noise over the square of a reading
constexpr int least_pairs = 5;
constexpr double by_noise = 1.0 / 3.0;  // less would hide a real scatter behind two degrees of freedom

/// Indices of the spins, group by group; groups by their first spin.
std::vector<std::vector<std::size_t>> groups_of(const std::vector<SpinReading>& spins) {
  std::vector<std::vector<std::size_t>> groups;
  std::map<WeightsKey, std::size_t> known;
  for (std::size_t i = 0; i < spins.size(); ++i) {
    const auto [at, is_new] = known.try_emplace(weights_key(spins[i]), groups.size());
    if (is_new) groups.emplace_back();
    groups[at->second].push_back(i);
  }
  return groups;
}

/// Probability of a chi-squared at least so large, for an even number of degrees of freedom (Abramowitz & Stegun,
/// 26.4.21).
double chance_of(double chi_squared, int degrees_of_freedom) {
  double term = std::exp(-0.5 * chi_squared);
  double sum = 0.0;
  for (int i = 0; i < degrees_of_freedom / 2; ++i) {
    sum += term;
    term *= 0.5 * chi_squared / (i + 1);
  }
  return sum;
}

double few_degrees_factor(int degrees_of_freedom) {
  const double d = degrees_of_freedom;
  return d * (std::pow(outside, -2.0 / d) - 1.0) / (-2.0 * std::log(outside));
}

bool same_speed(const SpinReading& a, const SpinReading& b) {
  constexpr double alike = 0.002;  // a reading that grows with Ω³ then moves by half a percent
  return a.speed_rad_s && b.speed_rad_s && std::abs(*a.speed_rad_s / *b.speed_rad_s - 1.0) < alike;
}

/// The variance of either part of a reading beyond its noise, over the square of its length: half the square of half
/// the difference in each part. Empty where the noise is too large to say.
std::optional<double> relative_variance(const SpinReading& a, const SpinReading& b, std::size_t sensor) {
  const double noise = 0.25 * (a.covariances[sensor].trace() + b.covariances[sensor].trace());
  const double square = std::norm(0.5 * (a.vectors[sensor] + b.vectors[sensor]));
  if (noise == 0.0 || noise > least_over_noise * square) return std::nullopt;
  return (0.25 * std::norm(a.vectors[sensor] - b.vectors[sensor]) - noise) / square;
}

RepeatScatter scatter_of(const std::vector<SpinReading>& spins, const std::vector<std::vector<std::size_t>>& groups,
                         std::size_t sensor) {
  RepeatScatter found;
  double squares = 0.0;
  double noise_squares = 0.0;
  for (const auto& group : groups) {
    if (group.size() < 2) continue;
    Phasor mean;
    for (const std::size_t i : group) mean += spins[i].vectors[sensor] / static_cast<double>(group.size());
    for (const std::size_t i : group) {
      squares += std::norm(spins[i].vectors[sensor] - mean);
      noise_squares += 0.5 * spins[i].covariances[sensor].trace();
    }
    found.spins += static_cast<int>(group.size());
    found.degrees_of_freedom += 2 * static_cast<int>(group.size() - 1);
  }
  if (found.spins == 0) return found;
  const double variance = squares / found.degrees_of_freedom;
  const double noise = noise_squares / found.spins;
  found.scatter = std::sqrt(variance);
  found.noise = std::sqrt(noise);
  const bool by_chance = noise > 0.0 && chance_of(squares / noise, found.degrees_of_freedom) > by_noise;
  if (!by_chance)
    found.added = std::sqrt(std::max(0.0, variance - noise) * few_degrees_factor(found.degrees_of_freedom));
  return found;
}

SpinReading merged(const std::vector<SpinReading>& spins, const std::vector<std::size_t>& group) {
  SpinReading one = spins[group.back()];
  one.slopes.clear();
  for (std::size_t s = 0; s < one.vectors.size(); ++s) {
    Eigen::Matrix2d weight_sum = Eigen::Matrix2d::Zero();
    Eigen::Vector2d sum = Eigen::Vector2d::Zero();
    const bool known =
        std::all_of(group.begin(), group.end(), [&](std::size_t i) { return !spins[i].covariances[s].isZero(0.0); });
    for (const std::size_t i : group) {
      const Eigen::Matrix2d weight =
          known ? Eigen::Matrix2d(spins[i].covariances[s].inverse()) : Eigen::Matrix2d(Eigen::Matrix2d::Identity());
      weight_sum += weight;
      sum += weight * Eigen::Vector2d(spins[i].vectors[s].real(), spins[i].vectors[s].imag());
    }
    const Eigen::Matrix2d covariance = weight_sum.inverse();
    const Eigen::Vector2d mean = covariance * sum;
    one.vectors[s] = {mean(0), mean(1)};
    one.covariances[s] = known ? covariance : Eigen::Matrix2d::Zero();
  }
  return one;
}

}  // namespace

std::vector<RepeatScatter> add_repeat_scatter(std::vector<SpinReading>& spins,
                                              const std::vector<std::string>& sensors) {
  const auto groups = groups_of(spins);
  if (groups.size() == spins.size()) return {};
  std::vector<RepeatScatter> all;
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    all.push_back(scatter_of(spins, groups, s));
    all.back().sensor = sensors[s];
    const double square = all.back().added * all.back().added;
    for (SpinReading& spin : spins) spin.covariances[s] += square * Eigen::Matrix2d::Identity();
  }
  return all;
}

void add_assumed_scatter(std::vector<SpinReading>& spins, double fraction) {
  for (SpinReading& spin : spins) {
    for (std::size_t s = 0; s < spin.vectors.size(); ++s) {
      if (spin.covariances[s].isZero(0.0)) continue;
      spin.covariances[s] += fraction * fraction * std::norm(spin.vectors[s]) * Eigen::Matrix2d::Identity();
    }
  }
}

std::optional<double> repeat_fraction_of(const std::vector<std::vector<SpinReading>>& jobs) {
  double sum = 0.0;
  int pairs = 0;
  for (const std::vector<SpinReading>& spins : jobs) {
    for (std::size_t k = 1; k < spins.size(); ++k) {
      if (!same_weights(spins[k - 1], spins[k]) || !same_speed(spins[k - 1], spins[k])) continue;
      for (std::size_t s = 0; s < spins[k].vectors.size(); ++s) {
        const auto variance = relative_variance(spins[k - 1], spins[k], s);
        sum += variance.value_or(0.0);
        pairs += variance ? 1 : 0;
      }
    }
  }
  if (pairs < least_pairs) return std::nullopt;
  return std::sqrt(std::max(0.0, sum / pairs) * few_degrees_factor(2 * pairs));
}

std::vector<SpinReading> merge_repeats(const std::vector<SpinReading>& spins) {
  auto groups = groups_of(spins);
  if (groups.size() == spins.size()) return spins;
  std::sort(groups.begin(), groups.end(), [](const auto& a, const auto& b) { return a.back() < b.back(); });
  std::vector<SpinReading> all;
  for (const auto& group : groups) all.push_back(group.size() == 1 ? spins[group.front()] : merged(spins, group));
  return all;
}

}  // namespace counterspot
