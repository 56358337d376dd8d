#include "counterspot/recording/inspection.hpp"

#include <algorithm>

namespace counterspot {

double ChannelStatistics::rms_about_mean() const {
  return std::sqrt(std::max(0.0, rms() * rms() - mean() * mean()));
}

InspectedRecording::InspectedRecording(std::unique_ptr<Recording> inner)
    : inner_(std::move(inner)), channels_(inner_->info().channels.size()) {}

std::size_t InspectedRecording::read(std::span<double> interleaved) {
  std::size_t frames = inner_->read(interleaved);
  add(interleaved.first(frames * channels_.size()));
  return frames;
}

std::span<const double> InspectedRecording::next(std::size_t most_frames) {
  auto block = inner_->next(most_frames);
  add(block);
  return block;
}

void InspectedRecording::read_to_end() {
  constexpr std::size_t frames_at_a_time = 4096;
  while (!next(frames_at_a_time).empty()) {
  }
}

void InspectedRecording::add(std::span<const double> interleaved) {
  std::size_t frames = interleaved.size() / channels_.size();
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    ChannelStatistics& channel = channels_[c];
    for (std::size_t k = 0; k < frames; ++k) {
      double value = interleaved[k * channels_.size() + c];
      if (!std::isfinite(value)) {
        if (channel.not_finite++ == 0) channel.first_not_finite = frames_ + static_cast<std::int64_t>(k);
        continue;
      }
      ++channel.samples;
      channel.min = std::min(channel.min, value);
      channel.max = std::max(channel.max, value);
      channel.sum += value;
      channel.sum_of_squares += value * value;
    }
  }
  frames_ += static_cast<std::int64_t>(frames);
}

}  // namespace counterspot
