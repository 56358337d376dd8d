#include "recording/resampled.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace counterspot {

namespace {

class Resampled final : public Recording {
 public:
  Resampled(std::unique_ptr<Recording> inner, PlaceOfFrame place_of, double first, double step)
      : inner_(std::move(inner)),
        place_of_(std::move(place_of)),
        channels_(inner_->info().channels.size()),
        first_(first),
        step_(step) {}

  const RecordingInfo& info() const override { return inner_->info(); }
  Warnings warnings() const override { return inner_->warnings(); }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t frames = interleaved.size() / channels_;
    std::size_t done = 0;
    while (done < frames) {
      const double place = first_ + step_ * static_cast<double>(next_);
      if (!reach(place)) break;
      interpolate(place, interleaved.subspan(done * channels_, channels_));
      ++done;
      ++next_;
    }
    return done;
  }

 private:
  static constexpr std::size_t nodes = 4;
  static constexpr std::size_t frames_of_fetch = 4096;

  /// Moves the four frames so that the place lies between the middle two, as far as there are frames. False behind the
  /// last one.
  bool reach(double place) {
    while (places_.size() < at_ + nodes || places_[at_ + 2] < place) {
      if (places_.size() > at_ + nodes) {
        ++at_;
      } else if (!fetch()) {
        break;
      }
    }
    return places_.size() >= at_ + nodes && place <= places_.back() + step_ / 2.0;
  }

  /// Reads on, behind the four frames that are needed.
  bool fetch() {
    places_.erase(places_.begin(), places_.begin() + static_cast<std::ptrdiff_t>(at_));
    frames_.erase(frames_.begin(), frames_.begin() + static_cast<std::ptrdiff_t>(at_ * channels_));
    at_ = 0;
    const std::size_t held = frames_.size();
    frames_.resize(held + frames_of_fetch * channels_);
    const std::size_t got = inner_->read(std::span(frames_).subspan(held));
    frames_.resize(held + got * channels_);
    for (std::size_t k = 0; k < got; ++k)
      places_.push_back(place_of_(std::span(frames_).subspan(held + k * channels_, channels_)));
    return got > 0;
  }

  void interpolate(double place, std::span<double> frame) const {
    std::array<double, nodes> weights{};
    for (std::size_t i = 0; i < nodes; ++i) {
      weights[i] = 1.0;
      for (std::size_t j = 0; j < nodes; ++j)
        if (j != i) weights[i] *= (place - places_[at_ + j]) / (places_[at_ + i] - places_[at_ + j]);
    }
    for (std::size_t c = 0; c < channels_; ++c) {
      frame[c] = 0.0;
      for (std::size_t i = 0; i < nodes; ++i) frame[c] += weights[i] * frames_[(at_ + i) * channels_ + c];
    }
  }

  std::unique_ptr<Recording> inner_;
  PlaceOfFrame place_of_;
  std::size_t channels_;
  double first_;
  double step_;
  std::size_t next_ = 0;        ///< the frame to be given out
  std::vector<double> frames_;  ///< of the recording, interleaved, from the first that may be needed
  std::vector<double> places_;  ///< of these
  std::size_t at_ = 0;          ///< of the four frames the first
};

}  // namespace

std::unique_ptr<Recording> resampled(std::unique_ptr<Recording> recording, PlaceOfFrame place_of, double first,
                                     double step) {
  return std::make_unique<Resampled>(std::move(recording), std::move(place_of), first, step);
}

}  // namespace counterspot
