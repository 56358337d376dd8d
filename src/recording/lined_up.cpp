#include "recording/lined_up.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace counterspot {

namespace {

constexpr std::size_t frames_at_once = 4096;
constexpr std::size_t least_common = 8;

struct Fit {
  ClockLine line;
  double rms = std::numeric_limits<double>::infinity();
};

/// The straight line through pairs of places.
Fit fit_line(std::span<const double> y, std::span<const double> x) {
  const auto n = static_cast<double>(x.size());
  double mean_x = 0.0;
  double mean_y = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    mean_x += x[i] / n;
    mean_y += y[i] / n;
  }
  double xx = 0.0;
  double xy = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
  }
  Fit fit;
  fit.line.rate = xy / xx;
  fit.line.offset = mean_y - fit.line.rate * mean_x;
  double squares = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) squares += std::pow(y[i] - fit.line.offset - fit.line.rate * x[i], 2);
  fit.rms = std::sqrt(squares / n);
  return fit;
}

class LinedUp final : public Recording {
 public:
  LinedUp(std::unique_ptr<Recording> inner, const ClockLine& line, std::int64_t begin)
      : inner_(std::move(inner)),
        line_(line),
        channels_(inner_->info().channels.size()),
        next_(static_cast<double>(begin)) {}

  const RecordingInfo& info() const override { return inner_->info(); }
  Warnings warnings() const override { return inner_->warnings(); }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t frames = interleaved.size() / channels_;
    std::size_t done = 0;
    for (; done < frames; ++done, next_ += 1.0) {
      const double place = line_.offset + line_.rate * next_;
      if (!reach(place)) break;
      interpolate(place, interleaved.subspan(done * channels_, channels_));
    }
    return done;
  }

 private:
  /// Holds the four frames around a place, the last ones near the end. False behind it.
  bool reach(double place) {
    const double first = std::max(0.0, std::floor(place) - 1.0);
    while (first_ + static_cast<double>(frames()) < first + 4.0) {
      drop(first);
      const std::size_t held = samples_.size();
      samples_.resize(held + frames_at_once * channels_);
      const std::size_t got = inner_->read(std::span(samples_).subspan(held));
      samples_.resize(held + got * channels_);
      if (got == 0) return place <= first_ + static_cast<double>(frames()) - 1.0 && frames() >= 4;
    }
    return true;
  }
  std::size_t frames() const { return samples_.size() / channels_; }
  void drop(double first) {
    const auto away = static_cast<std::size_t>(
        std::clamp(first - first_, 0.0, static_cast<double>(frames() - std::min<std::size_t>(frames(), 4))));
    samples_.erase(samples_.begin(), samples_.begin() + static_cast<std::ptrdiff_t>(away * channels_));
    first_ += static_cast<double>(away);
  }

  void interpolate(double place, std::span<double> frame) const {
    const auto last = static_cast<double>(frames() - 4);
    const double begin = std::clamp(std::floor(place) - 1.0 - first_, 0.0, last);
    const double u = place - first_ - begin;  // among the four: 1 to 2, but at the ends
    const std::array<double, 4> weights = {-(u - 1.0) * (u - 2.0) * (u - 3.0) / 6.0, u * (u - 2.0) * (u - 3.0) / 2.0,
                                           -u * (u - 1.0) * (u - 3.0) / 2.0, u * (u - 1.0) * (u - 2.0) / 6.0};
    const double* samples = samples_.data() + static_cast<std::size_t>(begin) * channels_;
    for (std::size_t c = 0; c < channels_; ++c) {
      frame[c] = 0.0;
      for (std::size_t i = 0; i < 4; ++i) frame[c] += weights[i] * samples[i * channels_ + c];
    }
  }

  std::unique_ptr<Recording> inner_;
  ClockLine line_;
  std::size_t channels_;
  std::vector<double> samples_;  ///< of the recording, from frame `first_` on
  double first_ = 0.0;
  double next_;  ///< frame of the other recording
};

}  // namespace

std::vector<double> rises_of(const std::filesystem::path& path, const RecordingOptions& options, std::size_t channel) {
  const auto for_each_sample = [&](auto use) {
    const auto recording = open_recording(path, options);
    const std::size_t channels = recording->info().channels.size();
    for (auto block = recording->next(frames_at_once); !block.empty(); block = recording->next(frames_at_once))
      for (std::size_t i = channel; i < block.size(); i += channels) use(block[i]);
  };
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for_each_sample([&](double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  });
  const double middle = 0.5 * (low + high);
  const double again = low + (high - low) / 3.0;
  std::vector<double> rises;
  double place = 0.0;
  double before = high;
  bool armed = false;
  for_each_sample([&](double value) {
    if (armed && before < middle && value >= middle) {
      rises.push_back(place - 1.0 + (middle - before) / (value - before));
      armed = false;
    }
    armed = armed || value < again;
    before = value;
    place += 1.0;
  });
  return rises;
}

std::optional<ClockLine> line_up(std::span<const double> edges, std::span<const double> of_other, double nominal_rate) {
  const auto most = static_cast<std::ptrdiff_t>(std::max(edges.size(), of_other.size()));
  const std::size_t wanted = std::max(least_common, std::min(edges.size(), of_other.size()) / 2);
  Fit best;
  for (std::ptrdiff_t shift = -most; shift <= most; ++shift) {  // edge i of the other is edge i + shift of this one
    const auto from = static_cast<std::size_t>(std::max<std::ptrdiff_t>(0, -shift));
    const auto begin = static_cast<std::size_t>(static_cast<std::ptrdiff_t>(from) + shift);
    if (from >= of_other.size() || begin >= edges.size()) continue;
    const std::size_t count = std::min(of_other.size() - from, edges.size() - begin);
    if (count < wanted) continue;
    const Fit fit = fit_line(edges.subspan(begin, count), of_other.subspan(from, count));
    if (fit.rms < best.rms) best = fit;
  }
  constexpr double let_pass = 1e-3;
  if (!std::isfinite(best.rms) || std::abs(best.line.rate / nominal_rate - 1.0) > let_pass) return std::nullopt;
  return best.line;
}

std::unique_ptr<Recording> lined_up(std::unique_ptr<Recording> recording, const ClockLine& line, std::int64_t begin) {
  return std::make_unique<LinedUp>(std::move(recording), line, begin);
}

}  // namespace counterspot
