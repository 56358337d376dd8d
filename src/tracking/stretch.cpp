#include "tracking/stretch.hpp"

#include <algorithm>
#include <bit>
#include <cmath>

#include "counterspot/units/angle.hpp"

namespace counterspot {
namespace {

constexpr double least_s = 0.7;
constexpr std::size_t fewest_frames = 256;
constexpr std::size_t most_frames = 65536;
constexpr std::int64_t side_by_side = 16;
constexpr std::int64_t then_each = 8;

}  // namespace

StretchGatherer::StretchGatherer(double rate_Hz, std::vector<std::size_t> channels)
    : rate_Hz_(rate_Hz), channels_(std::move(channels)) {
  stretch_.channels.resize(channels_.size());
  stretch_.extremes.resize(channels_.size());
}

void StretchGatherer::begin(const TurnOfSamples& turn) {
  stretch_.turns.clear();
  angle_rad_ = 0.0;
  stretch_.first_frame = turn.first_frame;
  const double frames = std::max(static_cast<double>(least_turns * turn.frames.count), least_s * rate_Hz_);
  wanted_frames_ = std::bit_ceil(static_cast<std::size_t>(std::clamp(frames, 1.0 * fewest_frames, 1.0 * most_frames)));
  for (std::vector<double>& channel : stretch_.channels) channel.resize(wanted_frames_);
  for (std::vector<Extremes>& channel : stretch_.extremes) channel.clear();
  stretch_.steps.assign(channels_.size(), no_step);
  filled_frames_ = 0;
}

const Stretch* StretchGatherer::add(const TurnOfSamples& turn) {
  const TurnFrames& frames = turn.frames;
  if (frames.count == 0) return nullptr;
  const bool joins = turn.first_frame == next_frame_ && !stretch_.turns.empty();
  next_frame_ = turn.first_frame + static_cast<std::int64_t>(frames.count);
  if (turn.first_frame < skip_to_frame_) return nullptr;
  if (!joins || filled_frames_ == wanted_frames_) begin(turn);
  stretch_.turns.push_back(filled_frames_);
  const std::size_t count = std::min(frames.count, wanted_frames_ - filled_frames_);
  angle_rad_ += frames.step_rad * static_cast<double>(count);
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    double* to = stretch_.channels[c].data() + filled_frames_;
    (frames.data + channels_[c]).visit([to, count, stride = frames.stride](const auto* x) {
      for (std::size_t n = 0; n < count; ++n) to[n] = static_cast<double>(x[n * stride]);
    });
    // looked at here, while they are in the cache
    stretch_.extremes[c].push_back(extremes_of({to, count}));
    const std::size_t before = filled_frames_ > 0 ? 1 : 0;
    stretch_.steps[c] = std::min(stretch_.steps[c], smallest_step({to - before, count + before}));
  }
  filled_frames_ += count;
  if (filled_frames_ < wanted_frames_) return nullptr;
  if (count == frames.count) stretch_.turns.push_back(filled_frames_);
  std::replace(stretch_.steps.begin(), stretch_.steps.end(), no_step, 0.0);
  stretch_.turns_per_frame = angle_rad_ / turn_rad / static_cast<double>(wanted_frames_);
  ++gathered_;
  if (gathered_ >= side_by_side && (gathered_ - side_by_side) % then_each == 0) apart_ *= 2;
  skip_to_frame_ = stretch_.first_frame + apart_ * static_cast<std::int64_t>(wanted_frames_);
  return &stretch_;
}

}  // namespace counterspot
