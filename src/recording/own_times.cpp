#include <algorithm>
#include <array>

#include "recording/readers.hpp"

namespace counterspot {

namespace {

/// The samples at even times, each found between the four frames around it by Lagrange's polynomial of third degree
/// (Abramowitz and Stegun 1964, 25.2.1, from memory). Of order 1 at 25 samples a turn this changes less than 1e-5.
class OwnTimes final : public Recording {
 public:
  OwnTimes(std::unique_ptr<Recording> inner, const TimeColumn& time, const EvenTime& even)
      : inner_(std::move(inner)),
        time_(time),
        channels_(inner_->info().channels.size()),
        start_s_(even.start_time_s()),
        interval_s_(even.interval_s()) {}

  const RecordingInfo& info() const override { return inner_->info(); }
  Warnings warnings() const override { return inner_->warnings(); }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t frames = interleaved.size() / channels_;
    std::size_t done = 0;
    while (done < frames) {
      const double time_s = start_s_ + interval_s_ * static_cast<double>(next_);
      if (!reach(time_s)) break;
      interpolate(time_s, interleaved.subspan(done * channels_, channels_));
      ++done;
      ++next_;
    }
    return done;
  }

 private:
  static constexpr std::size_t nodes = 4;
  static constexpr std::size_t frames_at_a_time = 4096;

  /// Moves the four frames so that the time lies between the middle two, as far as there are frames. False behind the
  /// last one.
  bool reach(double time_s) {
    while (times_s_.size() < at_ + nodes || times_s_[at_ + 2] < time_s) {
      if (times_s_.size() > at_ + nodes) {
        ++at_;
      } else if (!fetch()) {
        break;
      }
    }
    return times_s_.size() >= at_ + nodes && time_s <= times_s_.back() + interval_s_ / 2.0;
  }

  /// Reads on, behind the four frames that are needed.
  bool fetch() {
    times_s_.erase(times_s_.begin(), times_s_.begin() + static_cast<std::ptrdiff_t>(at_));
    frames_.erase(frames_.begin(), frames_.begin() + static_cast<std::ptrdiff_t>(at_ * channels_));
    at_ = 0;
    const std::size_t held = frames_.size();
    frames_.resize(held + frames_at_a_time * channels_);
    const std::size_t got = inner_->read(std::span(frames_).subspan(held));
    frames_.resize(held + got * channels_);
    for (std::size_t k = 0; k < got; ++k) {
      const double value = frames_[held + k * channels_ + time_.index];
      times_s_.push_back(time_.seconds(value, times_s_.empty() ? start_s_ : times_s_.back()));
    }
    return got > 0;
  }

  void interpolate(double time_s, std::span<double> frame) const {
    std::array<double, nodes> weights{};
    for (std::size_t i = 0; i < nodes; ++i) {
      weights[i] = 1.0;
      for (std::size_t j = 0; j < nodes; ++j)
        if (j != i) weights[i] *= (time_s - times_s_[at_ + j]) / (times_s_[at_ + i] - times_s_[at_ + j]);
    }
    for (std::size_t c = 0; c < channels_; ++c) {
      frame[c] = 0.0;
      for (std::size_t i = 0; i < nodes; ++i) frame[c] += weights[i] * frames_[(at_ + i) * channels_ + c];
    }
  }

  std::unique_ptr<Recording> inner_;
  TimeColumn time_;
  std::size_t channels_;
  double start_s_;
  double interval_s_;
  std::size_t next_ = 0;         ///< the frame to be given out
  std::vector<double> frames_;   ///< of the recording, interleaved, from the first that may be needed
  std::vector<double> times_s_;  ///< of these
  std::size_t at_ = 0;           ///< of the four frames the first
};

}  // namespace

std::unique_ptr<Recording> at_even_times(std::unique_ptr<Recording> recording, const TimeColumn& time,
                                         const EvenTime& even) {
  return std::make_unique<OwnTimes>(std::move(recording), time, even);
}

}  // namespace counterspot
