#include "tach/pulse_pattern.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "algebra/median.hpp"

namespace counterspot {
namespace {

constexpr double repeat_tolerance = 0.3;
constexpr double least_gap_difference = 0.05;
constexpr double least_width_difference = 0.2;
constexpr double least_scatters = 6.0;
constexpr double nearly_part = 0.7;  // of what tells pulses apart
constexpr double pitch_tolerance = 0.25;
constexpr int most_per_turn = 1000;

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

/// Where to begin reading values that go round, so that they come out greatest, the first one first. Empty if two
/// beginnings read alike.
std::optional<std::size_t> greatest_rotation(const std::vector<int>& values) {
  const std::size_t n = values.size();
  const auto compare = [&](std::size_t a, std::size_t b) {
    for (std::size_t k = 0; k < n; ++k)
      if (const int difference = values[(a + k) % n] - values[(b + k) % n]; difference != 0) return difference;
    return 0;
  };
  std::size_t best = 0;
  for (std::size_t j = 1; j < n; ++j)
    if (compare(j, best) > 0) best = j;
  for (std::size_t j = 0; j < n; ++j)
    if (j != best && compare(j, best) == 0) return std::nullopt;
  return best;
}

/// Gaps counted in pitches, if all are whole ones: a wheel, perhaps with teeth left out.
std::optional<std::vector<int>> whole_pitches(const std::vector<double>& gaps) {
  const double pitch = even_median_of(gaps);
  std::vector<int> pitches;
  for (const double gap : gaps) {
    pitches.push_back(static_cast<int>(std::lround(gap / pitch)));
    if (pitches.back() < 1 || std::abs(gap / pitch - pitches.back()) > pitch_tolerance) return std::nullopt;
  }
  return pitches;
}

/// 1 for each value that lies as far from the median as any, within the tolerance; those above it, if there are any.
std::vector<int> odd_ones(const std::vector<double>& values, double tolerance) {
  const double middle = even_median_of(values);
  double furthest = 0.0;
  for (const double value : values) furthest = std::max(furthest, std::abs(value - middle));
  std::vector<int> above;
  std::vector<int> either;
  for (const double value : values) {
    above.push_back(value - middle > furthest - tolerance ? 1 : 0);
    either.push_back(std::abs(value - middle) > furthest - tolerance ? 1 : 0);
  }
  return std::count(above.begin(), above.end(), 1) > 0 ? above : either;
}

/// The one that is odd, even if another recording puts values a little otherwise.
std::optional<std::size_t> odd_one(const Profile& profile) {
  const double middle = even_median_of(profile.mean);
  double furthest = 0.0;
  for (const double value : profile.mean) furthest = std::max(furthest, std::abs(value - middle));
  const std::vector<int> odd = odd_ones(profile.mean, 0.1 * furthest);
  if (odd != odd_ones(profile.mean, 0.2 * furthest + 4.0 * profile.scatter)) return std::nullopt;
  return greatest_rotation(odd);
}

std::optional<std::size_t> odd_gap(const Profile& gap) {
  const auto pitches = whole_pitches(gap.mean);
  if (!pitches || std::all_of(pitches->begin(), pitches->end(), [](int pitch) { return pitch == 1; }))
    return odd_one(gap);
  return greatest_rotation(*pitches);
}

/// Which pulse of the profiles is the identified one.
std::optional<std::size_t> identified_pulse(const Profile& gap, const Profile& width) {
  const auto n = static_cast<double>(gap.mean.size());
  if (gap.mean.size() == 1) return 0;
  if (tells_apart(gap, least_gap_difference / n)) {
    const auto odd = odd_gap(gap);
    return odd ? std::optional((*odd + 1) % gap.mean.size()) : std::nullopt;
  }
  const double mean_width = std::accumulate(width.mean.begin(), width.mean.end(), 0.0) / n;
  const bool nearly = tells_apart({gap.mean, nearly_part * gap.scatter}, nearly_part * least_gap_difference / n);
  if (nearly || !(mean_width > 0.0) || !tells_apart(width, least_width_difference * mean_width)) return std::nullopt;
  return odd_one(width);
}

/// How much longer one turn of the run is than the one before it, as a logarithm, about turn t.
double slowing(std::span<const Pulse> run, std::size_t n, std::size_t t) {
  const std::size_t turns = (run.size() - 1) / n;
  const std::size_t first = t > 0 ? t - 1 : t;
  const std::size_t last = std::min(t + 1, turns - 1);
  const auto length = [&](std::size_t turn) { return run[(turn + 1) * n].edge_frame - run[turn * n].edge_frame; };
  return last > first ? std::log(length(last) / length(first)) / static_cast<double>(last - first) : 0.0;
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
    const double middle = (0.5 * (run[i].edge_frame + run[i + 1].edge_frame) - run[begin].edge_frame) / turn;
    const double local_turn = turn * std::exp(slowing(run, n, begin / n) * (middle - 0.5));
    gaps.push_back((run[i + 1].edge_frame - run[i].edge_frame) / local_turn);
    widths.push_back(run[i].width_frames / local_turn);
  }
  const Profile gap = profile_of(gaps, n);
  const auto identified = identified_pulse(gap, profile_of(widths, n));
  if (!identified) return std::nullopt;
  LearnedRun learned;
  learned.first_identified = *identified;
  const double sum = std::accumulate(gap.mean.begin(), gap.mean.end(), 0.0);
  double position = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    learned.pattern.positions_turn.push_back(position);
    position += gap.mean[(*identified + j) % n] / sum;
  }
  learned.pattern.turn_frames = run[turns * n].edge_frame - run[(turns - 1) * n].edge_frame;
  return learned;
}

std::optional<SeenWheel> seen_wheel(std::span<const Pulse> pulses, int stated_per_turn) {
  for (int n = 1; n <= most_per_turn; ++n) {
    const auto needed = static_cast<std::size_t>(learning_turns * std::max(n, stated_per_turn)) + 1;
    if (pulses.size() < needed) return std::nullopt;
    if (repeating_tail(pulses, n) < needed) continue;
    std::vector<double> gaps;
    for (std::size_t i = pulses.size() - 1 - static_cast<std::size_t>(n); i + 1 < pulses.size(); ++i)
      gaps.push_back(pulses[i + 1].edge_frame - pulses[i].edge_frame);
    const auto pitches = whole_pitches(gaps);
    if (!pitches) return std::nullopt;
    return SeenWheel{n, std::accumulate(pitches->begin(), pitches->end(), 0)};
  }
  return std::nullopt;
}

}  // namespace counterspot
