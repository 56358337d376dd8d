#include "tracking/slow_signal.hpp"

#include <algorithm>
#include <cmath>

#include "recording/clones.hpp"
#include "tracking/interpolating_function.hpp"
#include "tracking/quad.hpp"

namespace counterspot {
namespace {

constexpr double values_per_fastest = 4.0;
constexpr double orders_above = 3.0;
constexpr std::size_t first_share = 12;   // the first thinning leaves at least so many values for each that is kept
constexpr double filter_crossings = 5.0;  // 80 dB from a quarter to three quarters of the rate that is left
constexpr double much_faster = 0.8;       // a turn shorter than this share of the one that set the steps: set anew
constexpr std::size_t most_slow_values = std::size_t{1} << 20;  // over all sensors

/// The triangular means of four neighbouring channels, one per block: weights 1 … h over a block, then h − 1 … 0 over
/// the next. With a step of 1 the samples themselves.
template <typename Sample>
[[gnu::always_inline]] inline void sum_four_blocks(const Sample* x, std::size_t count, std::size_t stride,
                                                   std::size_t step, BlockPlace& place, FourBlocks& four,
                                                   double*& out) {
  const double scale = 1.0 / static_cast<double>(step * step);
  const double last = static_cast<double>(step - 1);
  Quad sum, ramp, held;
  load(four.sums.data(), sum);
  load(four.ramps.data(), ramp);
  load(four.held.data(), held);
  for (std::size_t n = 0; n < count;) {
    const std::size_t end = std::min(count, n + step - place.filled);
    double i = static_cast<double>(place.filled);
    place.filled += end - n;
    for (; n < end; ++n, x += stride, i += 1.0) {
      Quad v;
      load(x, v);
      sum += v;
      ramp += i * v;
    }
    if (place.filled < step) continue;
    if (place.begun || step == 1) {
      const Quad mean = step == 1 ? sum : scale * (held + last * sum - ramp);
      store(mean, out);
      out += 4;
    }
    held = sum + ramp;
    sum = ramp = Quad{};
    place = {0, true};
  }
  store(sum, four.sums.data());
  store(ramp, four.ramps.data());
  store(held, four.held.data());
}

COUNTERSPOT_CLONES
void sum_blocks(const float* x, std::size_t count, std::size_t stride, std::size_t step, BlockPlace& place,
                FourBlocks& four, double*& out) {
  sum_four_blocks(x, count, stride, step, place, four, out);
}
COUNTERSPOT_CLONES
void sum_blocks(const double* x, std::size_t count, std::size_t stride, std::size_t step, BlockPlace& place,
                FourBlocks& four, double*& out) {
  sum_four_blocks(x, count, stride, step, place, four, out);
}

}  // namespace

double SlowStretch::passed(double cycles_per_frame) const {
  const double x = 0.5 * turn_rad * cycles_per_frame;
  if (blend_frames <= 1.0 || x == 0.0) return 1.0;
  const double sinc = std::sin(x * blend_frames) / (blend_frames * std::sin(x));
  return sinc * sinc;
}

SlowSignal::SlowSignal(std::vector<std::size_t> channels, double highest_order)
    : channels_(std::move(channels)),
      highest_order_(highest_order + orders_above),
      waiting_(channels_.size()),
      kept_(channels_.size()) {
  for (const std::size_t channel : channels_) {
    const std::size_t first = channel / 4 * 4;
    const bool is_new =
        std::none_of(fours_.begin(), fours_.end(), [&](const FourBlocks& four) { return four.first_channel == first; });
    if (is_new) fours_.push_back({first, {}, {}, {}});
  }
}

bool SlowSignal::much_faster_than_set(const TurnOfSamples& turn) const {
  return turn_rad / turn.frames.step_rad < much_faster * turn_frames_;
}

void SlowSignal::begin_run(const TurnOfSamples& turn) {
  if (turn_frames_ == 0.0 || much_faster_than_set(turn)) {
    turn_frames_ = turn_rad / turn.frames.step_rad;
    const auto step =
        std::max<std::size_t>(1, static_cast<std::size_t>(turn_frames_ / (values_per_fastest * highest_order_)));
    first_step_ = std::max<std::size_t>(1, step / first_share);
    second_step_ = step / first_step_;
    filter_.assign(1, 1.0);
    if (second_step_ > 1) {
      const auto reach = static_cast<std::size_t>(filter_crossings) * second_step_;
      const double unit = 1.0 / static_cast<double>(second_step_);
      InterpolatingFunction(filter_crossings)
          .fill(-filter_crossings * (1.0 - 1e-12), unit * (1.0 - 1e-12), 2 * reach + 1, filter_);
      const double sum =
          Eigen::Map<const Eigen::VectorXd>(filter_.data(), static_cast<Eigen::Index>(filter_.size())).sum();
      for (double& w : filter_) w /= sum;
    }
    for (auto& values : kept_) values.clear();
    runs_.clear();
    turns_.clear();
  }
  for (auto& values : waiting_) values.clear();
  for (FourBlocks& four : fours_) four = {four.first_channel, {}, {}, {}};
  place_ = {};
  const double centre = first_step_ > 1 ? static_cast<double>(first_step_) - 1.0 : 0.0;
  const double reach = 0.5 * static_cast<double>(filter_.size() - 1) * static_cast<double>(first_step_);
  if (!runs_.empty() && runs_.back().begin == kept()) runs_.pop_back();
  runs_.push_back({static_cast<double>(turn.first_frame) + centre + reach, kept()});
}

void SlowSignal::add(const TurnOfSamples& turn) {
  const bool joins = !turns_.empty() && turns_.back().end_frame == turn.turn.begin_frame;
  if (!joins || much_faster_than_set(turn)) begin_run(turn);
  turns_.push_back(turn.turn);
  const TurnFrames& frames = turn.frames;
  BlockPlace place = place_;
  for (FourBlocks& four : fours_) {
    made_.resize(4 * (frames.count / first_step_ + 1));
    double* end = made_.data();
    place = place_;
    (frames.data + four.first_channel).visit([&](const auto* x) {
      sum_blocks(x, frames.count, frames.stride, first_step_, place, four, end);
    });
    for (std::size_t s = 0; s < channels_.size(); ++s) {
      if (channels_[s] / 4 * 4 != four.first_channel) continue;
      for (const double* value = made_.data() + channels_[s] % 4; value < end; value += 4)
        waiting_[s].push_back(*value);
    }
  }
  place_ = place;
  thin();
  if (kept() * channels_.size() > most_slow_values) forget_older_half();
}

void SlowSignal::thin() {
  const std::size_t taps = filter_.size();
  const Eigen::Map<const Eigen::VectorXd> filter(filter_.data(), static_cast<Eigen::Index>(taps));
  for (std::size_t s = 0; s < channels_.size(); ++s) {
    std::vector<double>& in = waiting_[s];
    std::size_t at = 0;
    for (; at + taps <= in.size(); at += second_step_)
      kept_[s].push_back(
          taps == 1 ? in[at]
                    : filter.dot(Eigen::Map<const Eigen::VectorXd>(in.data() + at, static_cast<Eigen::Index>(taps))));
    in.erase(in.begin(), in.begin() + static_cast<std::ptrdiff_t>(at));
  }
}

void SlowSignal::forget_older_half() {
  const std::size_t half = kept() / 2;
  for (auto& values : kept_) values.erase(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(half));
  const double step = static_cast<double>(first_step_ * second_step_);
  while (runs_.size() > 1 && runs_[1].begin <= half) runs_.erase(runs_.begin());
  for (Run& run : runs_) {
    if (run.begin < half) {
      run.first_frame += step * static_cast<double>(half - run.begin);
      run.begin = 0;
    } else {
      run.begin -= half;
    }
  }
  const auto old = std::find_if(turns_.begin(), turns_.end(),
                                [&](const Turn& turn) { return turn.end_frame > runs_.front().first_frame; });
  turns_.erase(turns_.begin(), old);
}

std::optional<SlowStretch> SlowSignal::longest(double begin_frame, double end_frame, double least_turns) const {
  const double step = static_cast<double>(first_step_ * second_step_);
  std::size_t best_begin = 0;
  std::size_t best_end = 0;
  double first_frame = 0.0;
  for (std::size_t r = 0; r < runs_.size(); ++r) {
    const std::size_t end_of_run = r + 1 < runs_.size() ? runs_[r + 1].begin : kept();
    const auto size = static_cast<double>(end_of_run - runs_[r].begin);
    const double from = std::clamp(std::ceil((begin_frame - runs_[r].first_frame) / step), 0.0, size);
    const double to = std::clamp(std::floor((end_frame - runs_[r].first_frame) / step), from, size);
    if (static_cast<std::size_t>(to - from) <= best_end - best_begin) continue;
    best_begin = runs_[r].begin + static_cast<std::size_t>(from);
    best_end = runs_[r].begin + static_cast<std::size_t>(to);
    first_frame = runs_[r].first_frame + from * step;
  }
  if (best_end - best_begin < 2) return std::nullopt;
  SlowStretch stretch;
  stretch.first_frame = first_frame;
  stretch.step_frames = step;
  stretch.blend_frames = static_cast<double>(first_step_);
  const auto size = static_cast<Eigen::Index>(best_end - best_begin);
  stretch.angles_rad.resize(size);
  stretch.values.resize(size, static_cast<Eigen::Index>(channels_.size()));
  for (std::size_t s = 0; s < channels_.size(); ++s) {
    stretch.values.col(static_cast<Eigen::Index>(s)) =
        Eigen::Map<const Eigen::VectorXd>(kept_[s].data() + best_begin, size);
  }
  auto turn = turns_.begin();
  for (Eigen::Index n = 0; n < size; ++n) {
    const double frame = first_frame + step * static_cast<double>(n);
    while (turn + 1 != turns_.end() && turn->end_frame <= frame) ++turn;
    const double per_frame = (turn->end_angle_rad - turn->begin_angle_rad) / (turn->end_frame - turn->begin_frame);
    stretch.angles_rad(n) = turn->begin_angle_rad + per_frame * (frame - turn->begin_frame);
  }
  if (stretch.turns() < least_turns) return std::nullopt;
  return stretch;
}

}  // namespace counterspot
