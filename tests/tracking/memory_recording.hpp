#pragma once

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot::test {

/// A recording that lies in memory: interleaved samples, or one vector a channel. Values as written (volts), not
/// fractions of full scale, unless said otherwise.
class MemoryRecording : public Recording {
 public:
  MemoryRecording(double sample_rate_Hz, const std::vector<std::vector<double>>& channels, bool full_scale = false) {
    info_.name = "memory";
    info_.format = "memory";
    info_.sample_rate_Hz = sample_rate_Hz;
    info_.full_scale = full_scale;
    for (std::size_t c = 0; c < channels.size(); ++c) info_.channels.push_back({std::to_string(c + 1), ""});
    samples_.resize(channels.size() * channels.front().size());
    for (std::size_t c = 0; c < channels.size(); ++c) {
      for (std::size_t n = 0; n < channels[c].size(); ++n) samples_[n * channels.size() + c] = channels[c][n];
    }
  }

  const RecordingInfo& info() const override { return info_; }
  void rewind() { next_ = 0; }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t count = std::min(interleaved.size(), samples_.size() - next_);
    std::copy_n(samples_.begin() + static_cast<std::ptrdiff_t>(next_), count, interleaved.begin());
    next_ += count;
    return count / info_.channels.size();
  }

 private:
  RecordingInfo info_;
  std::vector<double> samples_;
  std::size_t next_ = 0;
};

}  // namespace counterspot::test
