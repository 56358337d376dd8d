#include "tracking/frame_buffer.hpp"

#include <algorithm>
#include <cassert>
#include <span>

namespace counterspot {
namespace {

std::size_t read_samples(Recording& recording, std::span<float> samples) {
  return recording.read_floats(samples);
}
std::size_t read_samples(Recording& recording, std::span<double> samples) {
  return recording.read(samples);
}

}  // namespace

FrameBuffer::FrameBuffer(std::size_t channels, bool floats) : channels_(channels) {
  if (floats) samples_.emplace<std::vector<float>>();
}

void FrameBuffer::make_room(std::size_t frames) {
  std::visit([&](auto& samples) { samples.resize(frames * channels_ + frame_padding); }, samples_);
}

std::size_t FrameBuffer::read(Recording& recording, std::size_t most_frames) {
  const std::size_t held = held_ * channels_;
  const std::size_t wanted = most_frames * channels_;
  const std::size_t got = std::visit(
      [&](auto& samples) {
        const std::size_t needed = held + wanted + frame_padding;
        if (needed > samples.size()) samples.resize(std::max(2 * samples.size(), needed));
        return read_samples(recording, std::span(samples).subspan(held, wanted));
      },
      samples_);
  held_ += got;
  return got;
}

void FrameBuffer::drop(std::size_t frames) {
  assert(frames <= held_);
  std::visit(
      [&](auto& samples) {
        const auto first = samples.begin() + static_cast<std::ptrdiff_t>(frames * channels_);
        std::copy(first, samples.begin() + static_cast<std::ptrdiff_t>(held_ * channels_), samples.begin());
      },
      samples_);
  held_ -= frames;
}

Samples FrameBuffer::at(std::size_t frame) const {
  return std::visit([&](const auto& samples) { return Samples(samples.data() + frame * channels_); }, samples_);
}

}  // namespace counterspot
