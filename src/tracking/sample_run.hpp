#pragma once

#include <cstdint>
#include <deque>
#include <vector>

#include "tracking/spin_stream.hpp"

namespace counterspot {

/// The samples of turns that follow one another without a gap, a row per sensor, with the clock that goes with them.
class SampleRun {
 public:
  /// @param channels 0-based, one per sensor. @param scales SI units per sample.
  SampleRun(std::vector<std::size_t> channels, std::vector<double> scales);

  /// Whether this turn begins where the last one ended; an empty run is joined by any.
  bool joins(const TurnOfSamples& turn) const;
  /// @pre joins(turn).
  void add(const TurnOfSamples& turn);
  void clear();

  /// Forgets the frames before this one, and the turns that end before it.
  void drop_before(std::int64_t frame);

  std::int64_t begin_frame() const { return begin_frame_; }
  std::int64_t end_frame() const { return begin_frame_ + static_cast<std::int64_t>(rows_.front().size()); }
  std::size_t sensors() const { return rows_.size(); }
  /// SI; the frame must be held.
  const double* at(std::size_t sensor, std::int64_t frame) const {
    return rows_[sensor].data() + static_cast<std::size_t>(frame - begin_frame_);
  }
  const std::deque<Turn>& turns() const { return turns_; }

 private:
  std::vector<std::size_t> channels_;
  std::vector<double> scales_;
  std::vector<std::vector<double>> rows_;
  std::int64_t begin_frame_ = 0;
  std::deque<Turn> turns_;
};

}  // namespace counterspot
