#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <span>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// What channels span within tenths of a second, over the newest two seconds: a knock is in one or two of twenty, a
/// shaft that turns in all. More than at rest is four times as much (common practice, no source).
class ChannelSpans {
 public:
  static constexpr std::size_t two_seconds = 20;
  /// @param channels of the recording, from 0; @param newest how many tenths of a second are kept
  ChannelSpans(const RecordingInfo& info, std::vector<std::size_t> channels, std::size_t newest = two_seconds);

  void push(std::span<const double> interleaved);
  bool heard() const;                   ///< two seconds
  std::vector<double> medians() const;  ///< one per channel, too long for a knock to be in it
  /// Both against `medians()` at rest, which may be empty: not known, and then false.
  bool over(const std::vector<double>& at_rest) const;
  /// While somebody knocks, which leaves pedestals ringing: what a shaft that turns shows does not die away.
  bool turns_among_knocks(const std::vector<double>& at_rest) const;

 private:
  struct Range {
    double low = 1e300, high = -1e300;
  };
  double level_over(double at_rest) const;

  std::size_t width_;  ///< channels of the recording
  std::vector<std::size_t> channels_;
  double span_frames_;
  double least_;
  std::size_t newest_;
  std::vector<Range> now_;
  std::int64_t frames_ = 0;  ///< in the spans that are not complete
  std::deque<std::vector<double>> spans_;
};

}  // namespace counterspot
