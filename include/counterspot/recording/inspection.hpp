#pragma once

#include <cmath>
#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// What one channel held, in the units of its samples. Infinite and not-a-number samples are counted and left out.
struct ChannelStatistics {
  std::int64_t samples = 0;                      ///< finite ones
  std::int64_t not_finite = 0;                   ///< NaN or infinity
  std::optional<std::int64_t> first_not_finite;  ///< its frame, from 0
  double min = std::numeric_limits<double>::infinity();
  double max = -std::numeric_limits<double>::infinity();
  double sum = 0.0;
  double sum_of_squares = 0.0;

  double mean() const { return samples > 0 ? sum / static_cast<double>(samples) : 0.0; }
  double rms() const { return samples > 0 ? std::sqrt(sum_of_squares / static_cast<double>(samples)) : 0.0; }
  double rms_about_mean() const;
};

/// A recording that takes statistics of every frame its reader takes from it, so that one pass, which is all a pipe
/// allows, serves both.
class InspectedRecording final : public Recording {
 public:
  explicit InspectedRecording(std::unique_ptr<Recording> inner);

  const RecordingInfo& info() const override { return inner_->info(); }
  std::size_t read(std::span<double> interleaved) override;
  std::span<const double> next(std::size_t most_frames) override;
  Warnings warnings() const override { return inner_->warnings(); }

  /// Reads what is left, for the statistics alone. Throws as `read`.
  void read_to_end();

  std::int64_t frames() const { return frames_; }  ///< seen so far
  double duration_s() const { return static_cast<double>(frames_) / info().sample_rate_Hz; }
  const std::vector<ChannelStatistics>& channels() const { return channels_; }

 private:
  void add(std::span<const double> interleaved);

  std::unique_ptr<Recording> inner_;
  std::int64_t frames_ = 0;
  std::vector<ChannelStatistics> channels_;
};

}  // namespace counterspot
