#include "tach/pulse_pattern.hpp"

#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"

namespace counterspot {
namespace {

constexpr double repeat_tolerance = 0.3;
constexpr double least_gap_difference = 0.05;
constexpr double least_width_difference = 0.2;
constexpr double least_scatters = 6.0;

/// Mean over the turns of a quantity of each pulse, and the scatter about it.
struct Profile {
  std::vector<double> mean;
  double scatter = 0.0;
};

Profile profile_of(const std::vector<double>& values, std::size_t per_turn) {
  const std::size_t turns = values.size() / per_turn;
  Profile profile{std::vector<double>(per_turn, 0.0), 0.0};
  for (std::size_t i = 0; i < turns * per_turn; ++i)
    profile.mean[i % per_turn] += values[i] / static_cast<double>(turns);
  double squares = 0.0;
  for (std::size_t i = 0; i < turns * per_turn; ++i) squares += std::pow(values[i] - profile.mean[i % per_turn], 2);
  profile.scatter = std::sqrt(squares / static_cast<double>((turns - 1) * per_turn));
  return profile;
}

/// True if no turning of the pattern by whole pulses looks like the pattern itself.
bool tells_apart(const Profile& profile, double least_difference) {
  const std::size_t n = profile.mean.size();
  const double limit = std::max(least_difference, least_scatters * profile.scatter);
  for (std::size_t shift = 1; shift < n; ++shift) {
    double largest = 0.0;
    for (std::size_t j = 0; j < n; ++j) {
      largest = std::max(largest, std::abs(profile.mean[(j + shift) % n] - profile.mean[j]));
    }
    if (largest < limit) return false;
  }
  return true;
}

/// The index whose value lies furthest from the median; of equals the larger value, then the first of a row of
/// neighbours.
std::size_t odd_one(const std::vector<double>& values) {
  const double middle = even_median_of(values);
  const std::size_t n = values.size();
  std::size_t odd = 0;
  for (std::size_t j = 1; j < n; ++j) {
    const double here = std::abs(values[j] - middle);
    const double best = std::abs(values[odd] - middle);
    if (here > 1.1 * best || (here > 0.9 * best && values[j] > values[odd] + 0.2 * here)) odd = j;
  }
  const auto alike = [&](std::size_t j) {
    return std::abs(values[j] - values[odd]) < 0.1 * std::abs(values[odd] - middle);
  };
  for (std::size_t step = 1; step < n && alike((odd + n - 1) % n); ++step) odd = (odd + n - 1) % n;
  return odd;
}

}  // namespace

std::size_t repeating_tail(std::span<const Pulse> pulses, int per_turn) {
  const auto n = static_cast<std::size_t>(per_turn);
  if (pulses.size() < n + 2) return pulses.size();
  const auto interval = [&](std::size_t i) { return pulses[i + 1].edge_frame - pulses[i].edge_frame; };
  std::size_t first = pulses.size() - 2;
  while (first >= n) {
    const double ratio = interval(first) / interval(first - n);
    if (ratio > 1.0 + repeat_tolerance || ratio < 1.0 / (1.0 + repeat_tolerance)) break;
    --first;
  }
  return pulses.size() - (first + 1 - n);
}

std::optional<LearnedRun> learn_pattern(std::span<const Pulse> run, int per_turn) {
  const auto n = static_cast<std::size_t>(per_turn);
  const std::size_t turns = (run.size() - 1) / n;
  std::vector<double> gaps;
  std::vector<double> widths;
  for (std::size_t i = 0; i < turns * n; ++i) {
    const std::size_t begin = i - i % n;
    const double turn = run[begin + n].edge_frame - run[begin].edge_frame;
    gaps.push_back((run[i + 1].edge_frame - run[i].edge_frame) / turn);
    widths.push_back(run[i].width_frames / turn);
  }
  const Profile gap = profile_of(gaps, n);
  std::size_t identified = 0;
  if (n > 1) {
    const Profile width = profile_of(widths, n);
    double mean_width = 0.0;
    for (const double w : width.mean) mean_width += w / static_cast<double>(n);
    if (tells_apart(gap, least_gap_difference / static_cast<double>(n))) {
      identified = (odd_one(gap.mean) + 1) % n;
    } else if (mean_width > 0.0 && tells_apart(width, least_width_difference * mean_width)) {
      identified = odd_one(width.mean);
    } else {
      return std::nullopt;
    }
  }
  LearnedRun learned;
  learned.first_identified = identified;
  double position = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    learned.pattern.positions_turn.push_back(position);
    position += gap.mean[(identified + j) % n];
  }
  learned.pattern.turn_frames = run[turns * n].edge_frame - run[(turns - 1) * n].edge_frame;
  return learned;
}

}  // namespace counterspot
