#include "tracking/plateau.hpp"

#include <algorithm>
#include <array>
#include <cstdint>

#include "algebra/median.hpp"
#include "recording/clones.hpp"
#include "tracking/quad.hpp"

namespace counterspot {
namespace {

constexpr std::size_t bin_count = 1000;
constexpr std::array<std::size_t, 3> widths = {3, 10, 30};  // δ in bins
constexpr double fewest_steps = 16.0;                       // a smaller signal stays on its few steps by nature
constexpr double cut_ratio = 0.8;
constexpr double surely_cut_ratio = 0.92;
constexpr double least_cut_share = 0.01;  // of all samples
constexpr double sure_share = 0.03;
// Where the speed is locked to the sample rate, fewer samples in a turn may leave out a band of 4δ.
constexpr double sure_samples_per_turn = 8.0;
constexpr double turns_reached = 0.5;

enum class Cut { no, yes, certainly };

/// Samples at one end of the range: within δ of it, and within 4δ.
struct EndCount {
  std::size_t inside = 0;
  std::size_t around = 0;
};
struct EndCounts {
  EndCount bottom;
  EndCount top;
};

COUNTERSPOT_CLONES
EndCounts count_near_ends(const double* x, std::size_t count, double low, double bins_per_unit, std::size_t width) {
  using Counts = std::int64_t __attribute__((vector_size(32)));
  const auto bins = static_cast<double>(width);
  const double last = static_cast<double>(bin_count);
  const std::array<double, 4> limits = {bins + 1.0, 4.0 * bins + 1.0, last - bins, last - 4.0 * bins};
  Counts bottom_inside = {}, bottom_around = {}, top_inside = {}, top_around = {};
  std::size_t n = 0;
  for (; n + 4 <= count; n += 4) {
    Quad v;
    load(x + n, v);
    const Quad bin = (v - low) * bins_per_unit;
    bottom_inside -= bin < limits[0];  // true is −1
    bottom_around -= bin < limits[1];
    top_inside -= bin >= limits[2];
    top_around -= bin >= limits[3];
  }
  const auto sum = [](const Counts& counts) {
    return static_cast<std::size_t>(counts[0] + counts[1] + counts[2] + counts[3]);
  };
  EndCounts near{{sum(bottom_inside), sum(bottom_around)}, {sum(top_inside), sum(top_around)}};
  for (; n < count; ++n) {
    const double bin = (x[n] - low) * bins_per_unit;
    near.bottom.inside += bin < limits[0] ? 1 : 0;
    near.bottom.around += bin < limits[1] ? 1 : 0;
    near.top.inside += bin >= limits[2] ? 1 : 0;
    near.top.around += bin >= limits[3] ? 1 : 0;
  }
  return near;
}

/// @param shortfalls how far each turn comes short of the end, in bins.
bool reached_turn_after_turn(const std::vector<double>& shortfalls, std::size_t width) {
  const auto reached = std::count_if(shortfalls.begin(), shortfalls.end(),
                                     [&](double bins) { return bins <= static_cast<double>(width); });
  return static_cast<double>(reached) >= turns_reached * static_cast<double>(shortfalls.size());
}

Cut cut_of(const EndCount& near, std::size_t samples, std::size_t turns) {
  const auto inside = static_cast<double>(near.inside);
  const auto all = static_cast<double>(samples);
  const double ratio = inside / static_cast<double>(near.around);
  if (inside < least_cut_share * all || ratio < cut_ratio) return Cut::no;
  const double sure = std::max(sure_share * all, sure_samples_per_turn * static_cast<double>(turns));
  return ratio >= surely_cut_ratio && inside >= sure ? Cut::certainly : Cut::yes;
}

}  // namespace

void PlateauWatch::add(const Stretch& stretch, std::size_t channel) {
  const std::vector<double>& samples = stretch.channels[channel];
  const double step = stretch.steps[channel];
  if (stretch.turns.size() < 2) return;
  ++looks_;
  const std::vector<Extremes>& turns = stretch.extremes[channel];
  double low = turns.front().low;
  double high = turns.front().high;
  for (const Extremes& turn : turns) {
    low = std::min(low, turn.low);
    high = std::max(high, turn.high);
  }
  if (high - low < fewest_steps * step || !(high > low)) return;
  const double bins_per_unit = static_cast<double>(bin_count) / (high - low);
  std::vector<double> below;  // how far each whole turn comes short of the end, in bins
  std::vector<double> above;
  for (std::size_t i = 0; i + 1 < stretch.turns.size(); ++i) {
    below.push_back((turns[i].low - low) * bins_per_unit);
    above.push_back((high - turns[i].high) * bins_per_unit);
  }
  Cut bottom = Cut::no;
  Cut top = Cut::no;
  for (const std::size_t width : widths) {
    const bool to_bottom = reached_turn_after_turn(below, width);
    const bool to_top = reached_turn_after_turn(above, width);
    if (static_cast<double>(width) < step * bins_per_unit || !(to_bottom || to_top)) continue;
    const EndCounts near = count_near_ends(samples.data(), samples.size(), low, bins_per_unit, width);
    if (to_bottom) bottom = std::max(bottom, cut_of(near.bottom, samples.size(), below.size()));
    if (to_top) top = std::max(top, cut_of(near.top, samples.size(), above.size()));
  }
  const bool both = top != Cut::no && bottom != Cut::no;
  if (both || top == Cut::certainly) tops_.push_back(high);
  if (both || bottom == Cut::certainly) bottoms_.push_back(low);
}

std::vector<double> PlateauWatch::levels() const {
  std::vector<double> found;
  for (const std::vector<double>* ends : {&bottoms_, &tops_}) {
    if (2 * ends->size() >= looks_ && !ends->empty()) found.push_back(median_of(*ends));
  }
  return found;
}

}  // namespace counterspot
