#include "tracking/sample_run.hpp"

namespace counterspot {

SampleRun::SampleRun(std::vector<std::size_t> channels, std::vector<double> scales)
    : channels_(std::move(channels)), scales_(std::move(scales)), rows_(channels_.size()) {}

bool SampleRun::joins(const TurnOfSamples& turn) const {
  return turns_.empty() || turn.turn.begin_frame == turns_.back().end_frame;
}

void SampleRun::add(const TurnOfSamples& turn) {
  if (turns_.empty()) begin_frame_ = turn.first_frame;
  turns_.push_back(turn.turn);
  const TurnFrames& f = turn.frames;
  for (std::size_t s = 0; s < rows_.size(); ++s) {
    const std::size_t held = rows_[s].size();
    rows_[s].resize(held + f.count);
    double* row = rows_[s].data() + held;
    (f.data + channels_[s]).visit([&](const auto* x) {
      for (std::size_t n = 0; n < f.count; ++n) row[n] = scales_[s] * static_cast<double>(x[n * f.stride]);
    });
  }
}

void SampleRun::clear() {
  for (auto& row : rows_) row.clear();
  turns_.clear();
}

void SampleRun::drop_before(std::int64_t frame) {
  if (frame <= begin_frame_) return;
  const auto count = static_cast<std::ptrdiff_t>(frame - begin_frame_);
  for (auto& row : rows_) row.erase(row.begin(), row.begin() + count);
  begin_frame_ = frame;
  while (turns_.size() > 1 && turns_.front().end_frame <= static_cast<double>(frame)) turns_.pop_front();
}

}  // namespace counterspot
