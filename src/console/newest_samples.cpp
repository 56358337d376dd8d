#include "console/newest_samples.hpp"

#include <algorithm>

namespace counterspot {

namespace {

class SamplesTaken final : public Recording {
 public:
  SamplesTaken(RecordingInfo info, std::vector<float> samples) : info_(std::move(info)), samples_(std::move(samples)) {}
  const RecordingInfo& info() const override { return info_; }
  std::size_t read(std::span<double> interleaved) override {
    const std::size_t channels = info_.channels.size();
    const std::size_t count = std::min(interleaved.size() / channels * channels, samples_.size() - at_);
    std::copy_n(samples_.begin() + static_cast<std::ptrdiff_t>(at_), count, interleaved.begin());
    at_ += count;
    return count / channels;
  }

 private:
  RecordingInfo info_;
  std::vector<float> samples_;
  std::size_t at_ = 0;
};

}  // namespace

void NewestSamples::begin(const RecordingInfo& info) {
  const std::scoped_lock lock(mutex_);
  info_ = info;
  next_ = 0;
  full_ = false;
  ring_.assign(static_cast<std::size_t>(kept_s * info.sample_rate_Hz) * info.channels.size(), 0.0F);
}

void NewestSamples::push(std::span<const double> interleaved) {
  const std::scoped_lock lock(mutex_);
  for (const double sample : interleaved) {
    ring_[next_] = static_cast<float>(sample);
    if (++next_ < ring_.size()) continue;
    next_ = 0;
    full_ = true;
  }
}

std::unique_ptr<Recording> NewestSamples::recording() const {
  const std::scoped_lock lock(mutex_);
  if (ring_.empty()) return nullptr;
  std::vector<float> samples;
  const auto middle = ring_.begin() + static_cast<std::ptrdiff_t>(next_);
  if (full_) samples.assign(middle, ring_.end());
  samples.insert(samples.end(), ring_.begin(), middle);
  return std::make_unique<SamplesTaken>(info_, std::move(samples));
}

}  // namespace counterspot
