#include "tracking/channel_spans.hpp"

#include <algorithm>

#include "algebra/median.hpp"

namespace counterspot {

namespace {

constexpr double span_s = 0.1;
constexpr double most_at_rest = 4.0;
constexpr double among_knocks = 2.0;  // of three quarters of the spans over the least
constexpr double least_span = 3e-5;   // of full scale, one step of 16 bits: a channel without noise is at rest too

}  // namespace

ChannelSpans::ChannelSpans(const RecordingInfo& info, std::vector<std::size_t> channels, std::size_t newest)
    : width_(info.channels.size()),
      channels_(std::move(channels)),
      span_frames_(span_s * info.sample_rate_Hz),
      least_(info.full_scale ? least_span : 0.0),
      newest_(newest),
      now_(channels_.size()) {}

void ChannelSpans::push(std::span<const double> interleaved) {
  for (std::size_t i = 0; i + width_ <= interleaved.size(); i += width_) {
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      const double sample = interleaved[i + channels_[c]];
      now_[c].low = std::min(now_[c].low, sample);
      now_[c].high = std::max(now_[c].high, sample);
    }
    if (static_cast<double>(++frames_) < span_frames_) continue;
    std::vector<double>& spans = spans_.emplace_back();
    for (Range& each : now_) {
      spans.push_back(each.high - each.low);
      each = {};
    }
    frames_ = 0;
    if (spans_.size() > newest_) spans_.pop_front();
  }
}

bool ChannelSpans::heard() const {
  return spans_.size() >= two_seconds;
}

std::vector<double> ChannelSpans::medians() const {
  std::vector<double> medians(spans_.empty() ? 0 : channels_.size());
  for (std::size_t c = 0; c < medians.size(); ++c) {
    std::vector<double> all;
    for (const auto& each : spans_) all.push_back(each[c]);
    medians[c] = median_of(std::move(all));
  }
  return medians;
}

double ChannelSpans::level_over(double at_rest) const {
  return most_at_rest * std::max(at_rest, least_);
}

bool ChannelSpans::over(const std::vector<double>& at_rest) const {
  const std::vector<double> now = medians();
  for (std::size_t c = 0; c < std::min(now.size(), at_rest.size()); ++c)
    if (now[c] > level_over(at_rest[c])) return true;
  return false;
}

bool ChannelSpans::turns_among_knocks(const std::vector<double>& at_rest) const {
  if (!heard()) return false;
  for (std::size_t c = 0; c < at_rest.size(); ++c) {
    std::vector<double> spans;
    for (const auto& each : spans_) spans.push_back(each[c]);
    std::sort(spans.begin(), spans.end());
    if (spans.front() > level_over(at_rest[c]) && spans[3 * spans.size() / 4] < among_knocks * spans.front())
      return true;
  }
  return false;
}

}  // namespace counterspot
