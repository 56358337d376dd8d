#include "tracking/rest_level.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "algebra/median.hpp"
#include "tracking/welch.hpp"

namespace counterspot {
namespace {

constexpr double block_s = 0.5;
constexpr std::size_t blocks_kept = 4;
constexpr std::size_t lasting_blocks = 3;  // longer than a knock
constexpr double highest_rest_Hz = 1000.0;
// Power over that at rest, a factor of 4 in amplitude. Of noise, exponentially distributed in a line, three blocks in a
// row come over it less than once in e^48.
constexpr double over_rest = 16.0;
// Powers of a line that lasts. What a knock leaves at 5 Hz and 1 % damping is 0.73 of it half a second later.
constexpr double as_large = 1.5;
constexpr std::size_t looks_alike = 6;  // one after the other, 4.5 s in all: impatient knocks are alike now and then
constexpr double under_rest = 1.0 / 25.0;
constexpr double half_amplitude = 0.25;
constexpr std::size_t first_line = 1;  // the level itself is no vibration

/// The largest within so many lines on either side: a neighbour's line may wander, and noise is uneven.
std::vector<double> spread_out(const std::vector<double>& powers, std::size_t lines) {
  std::vector<double> wide(powers.size());
  for (std::size_t i = 0; i < powers.size(); ++i) {
    const std::size_t begin = i > lines ? i - lines : 0;
    const std::size_t end = std::min(powers.size(), i + lines + 1);
    wide[i] = *std::max_element(powers.begin() + static_cast<std::ptrdiff_t>(begin),
                                powers.begin() + static_cast<std::ptrdiff_t>(end));
  }
  return wide;
}

double sum_of(const std::vector<double>& powers) {
  return std::accumulate(powers.begin() + first_line, powers.end(), 0.0);
}

}  // namespace

RestLevel::RestLevel(double rate_Hz)
    : block_frames_(std::max<std::size_t>(16, static_cast<std::size_t>(block_s * rate_Hz))),
      lines_(std::min(block_frames_ / 2, static_cast<std::size_t>(highest_rest_Hz * block_s))) {
  block_.reserve(block_frames_);
}

void RestLevel::add(double sample) {
  block_.push_back(std::isfinite(sample) ? sample : 0.0);
  if (block_.size() == block_frames_) end_block();
}

void RestLevel::end_block() {
  std::vector<double> powers(lines_, 0.0);
  add_powers(block_, powers);
  powers_.push_back(std::move(powers));
  if (powers_.size() > blocks_kept) powers_.pop_front();
  if (turning_) most_turning_ = std::max(most_turning_, sum_of(powers_.back()));
  turning_ = false;
  block_.clear();
  look_for_lasting_lines();
}

std::vector<double> RestLevel::mean_of_blocks() const {
  std::vector<double> mean(lines_, 0.0);
  for (const std::vector<double>& powers : powers_)
    for (std::size_t i = 0; i < lines_; ++i) mean[i] += powers[i] / static_cast<double>(powers_.size());
  return mean;
}

MotionEvidence::Sensors RestLevel::state() const {
  using Sensors = MotionEvidence::Sensors;
  if (powers_.size() < lasting_blocks) return Sensors::unlearned;
  const bool silent = std::all_of(powers_.end() - lasting_blocks, powers_.end(),
                                  [](const std::vector<double>& powers) { return sum_of(powers) <= 0.0; });
  if (silent) return Sensors::no_signal;
  if (rest_.empty()) return Sensors::unlearned;
  std::vector<double> lasting(lines_, INFINITY);
  for (auto powers = powers_.end() - lasting_blocks; powers != powers_.end(); ++powers) {
    const std::vector<double> wide = spread_out(*powers, 1);
    for (std::size_t i = 0; i < lines_; ++i) lasting[i] = std::min(lasting[i], wide[i]);
  }
  const std::vector<double> rest = spread_out(rest_, 2);
  for (std::size_t i = first_line; i < lines_; ++i)
    if (lasting[i] > over_rest * rest[i]) return Sensors::vibrating;
  return median_of(mean_of_blocks()) < under_rest * median_of(rest_) ? Sensors::gone : Sensors::at_rest;
}

bool RestLevel::as_when_turning() const {
  return !powers_.empty() && most_turning_ > 0.0 && sum_of(mean_of_blocks()) >= half_amplitude * most_turning_;
}

/// What a shaft that turns shows in a line does not die away as what a knock leaves. One block may hold a knock on top.
void RestLevel::look_for_lasting_lines() {
  if (rest_.empty() || powers_.size() < blocks_kept) return;
  lasting_.resize(lines_, 0);
  const std::vector<double> rest = spread_out(rest_, 2);
  for (std::size_t i = first_line; i < lines_; ++i) {
    std::array<double, blocks_kept> line{};
    std::ranges::transform(powers_, line.begin(), [i](const std::vector<double>& powers) { return powers[i]; });
    std::ranges::sort(line);
    const bool lasts = line.front() > over_rest * rest[i] && line[blocks_kept - 2] < as_large * line.front();
    lasting_[i] = lasts ? lasting_[i] + 1 : 0;
  }
}

bool RestLevel::turns_among_knocks() const {
  return std::ranges::any_of(lasting_, [](std::size_t looks) { return looks >= looks_alike; });
}

bool RestLevel::may_learn() const {
  return powers_.size() == blocks_kept && state() != MotionEvidence::Sensors::no_signal;
}

/// What was learned before is kept beside it, so that a neighbour that comes and goes is asked about once; but not that
/// of a sensor that shows so much less now.
void RestLevel::learn() {
  const bool went = state() == MotionEvidence::Sensors::gone;
  const std::vector<double> now = mean_of_blocks();
  if (rest_.empty() || went) {
    rest_ = now;
  } else {
    for (std::size_t i = 0; i < lines_; ++i) rest_[i] = std::max(rest_[i], now[i]);
  }
}

}  // namespace counterspot
