#include "tracking/plateau.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "algebra/median.hpp"

namespace counterspot {
namespace {

constexpr std::size_t bin_count = 1000;
constexpr std::array<std::size_t, 3> widths = {3, 10, 30};  // δ in bins
constexpr double fewest_steps = 16.0;                       // a smaller signal stays on its few steps by nature
constexpr double cut_ratio = 0.8;
constexpr double surely_cut_ratio = 0.92;
constexpr double least_cut_share = 0.01;  // of all samples
constexpr double sure_share = 0.03;
constexpr double sure_samples_per_turn =
    8.0;  // where the speed is locked to the sample rate fewer may leave out a band of 4δ
constexpr double turns_reached = 0.5;

/// One end of the range: how many samples lie in each bin from it inwards, and how far each turn comes short of it.
struct End {
  std::vector<double> counts = std::vector<double>(bin_count + 1, 0.0);
  std::vector<double> turn_shortfalls;  // in bins
};

enum class Cut { no, yes, certainly };

Cut cut_of(const End& end, double samples, double step_bins) {
  Cut found = Cut::no;
  for (const std::size_t width : widths) {
    if (static_cast<double>(width) < step_bins) continue;
    const auto within = [&](std::size_t bins) {
      double sum = 0.0;
      for (std::size_t b = 0; b <= bins && b < end.counts.size(); ++b) sum += end.counts[b];
      return sum;
    };
    const double inside = within(width);
    const double ratio = inside / within(4 * width);
    const auto reached = std::count_if(end.turn_shortfalls.begin(), end.turn_shortfalls.end(),
                                       [&](double bins) { return bins <= static_cast<double>(width); });
    const bool turn_after_turn =
        static_cast<double>(reached) >= turns_reached * static_cast<double>(end.turn_shortfalls.size());
    if (!turn_after_turn || inside < least_cut_share * samples || ratio < cut_ratio) continue;
    const double fewest =
        std::max(sure_share * samples, sure_samples_per_turn * static_cast<double>(end.turn_shortfalls.size()));
    if (ratio >= surely_cut_ratio && inside >= fewest) return Cut::certainly;
    found = Cut::yes;
  }
  return found;
}

}  // namespace

double step_of(const std::vector<double>& samples) {
  // several at a time, for each comparison waits for the one before it
  constexpr std::size_t lanes = 8;
  constexpr double none = std::numeric_limits<double>::infinity();
  std::array<double, lanes> least;
  least.fill(none);
  for (std::size_t n = 1; n < samples.size(); n += lanes) {
    const std::size_t count = std::min(lanes, samples.size() - n);
    for (std::size_t i = 0; i < count; ++i) {
      const double step = std::abs(samples[n + i] - samples[n + i - 1]);
      least[i] = step > 0.0 && step < least[i] ? step : least[i];
    }
  }
  const double step = *std::min_element(least.begin(), least.end());
  return step == none ? 0.0 : step;
}

void PlateauWatch::add(const Stretch& stretch, std::size_t channel, double step) {
  const std::vector<double>& samples = stretch.channels[channel];
  if (stretch.turns.size() < 2) return;
  ++looks_;
  const Eigen::Map<const Eigen::ArrayXd> all(samples.data(), static_cast<Eigen::Index>(samples.size()));
  const double low = all.minCoeff();
  const double high = all.maxCoeff();
  if (high - low < fewest_steps * step || !(high > low)) return;
  const double bins_per_unit = static_cast<double>(bin_count) / (high - low);
  End top;
  End bottom;
  for (const double x : samples) bottom.counts[static_cast<std::size_t>((x - low) * bins_per_unit)] += 1.0;
  std::reverse_copy(bottom.counts.begin(), bottom.counts.end(), top.counts.begin());
  for (std::size_t i = 0; i + 1 < stretch.turns.size(); ++i) {
    const auto begin = static_cast<Eigen::Index>(stretch.turns[i]);
    const auto turn = all.segment(begin, static_cast<Eigen::Index>(stretch.turns[i + 1]) - begin);
    bottom.turn_shortfalls.push_back((turn.minCoeff() - low) * bins_per_unit);
    top.turn_shortfalls.push_back((high - turn.maxCoeff()) * bins_per_unit);
  }
  const auto count = static_cast<double>(samples.size());
  const Cut above = cut_of(top, count, step * bins_per_unit);
  const Cut below = cut_of(bottom, count, step * bins_per_unit);
  const bool both = above != Cut::no && below != Cut::no;
  if (both || above == Cut::certainly) tops_.push_back(high);
  if (both || below == Cut::certainly) bottoms_.push_back(low);
}

std::vector<double> PlateauWatch::levels() const {
  std::vector<double> found;
  for (const std::vector<double>* ends : {&bottoms_, &tops_}) {
    if (2 * ends->size() >= looks_ && !ends->empty()) found.push_back(median_of(*ends));
  }
  return found;
}

}  // namespace counterspot
