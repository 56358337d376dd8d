#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "tracking/extremes.hpp"
#include "tracking/spin_stream.hpp"

namespace counterspot {

/// Turns in a row, sample by sample, as what looks closely at a signal needs them.
struct Stretch {
  std::int64_t first_frame = 0;
  std::vector<std::vector<double>> channels;    ///< of each channel watched, in units of a sample
  std::vector<std::size_t> turns;               ///< where each whole turn begins, and where the last of them ends
  std::vector<std::vector<Extremes>> extremes;  ///< of each channel in each turn, and in the one that is cut off
  std::vector<double> steps;  ///< of each channel: the smallest between samples in a row; 0 if nothing changes
  double turns_per_frame = 0.0;

  std::size_t frames() const { return channels.front().size(); }
};

/// Gathers stretches out of a spin: a power of two of frames, at least 16 turns and 0.7 s. The first 16 lie side by
/// side; from then on every further eight lie twice as far apart, so that a long recording takes hardly more work.
class StretchGatherer {
 public:
  static constexpr std::size_t least_turns = 16;

  StretchGatherer(double rate_Hz, std::vector<std::size_t> channels);

  /// The stretch that this turn completes, if it completes one that is wanted; good until the next call.
  const Stretch* add(const TurnOfSamples& turn);

 private:
  void begin(const TurnOfSamples& turn);

  double rate_Hz_;
  std::vector<std::size_t> channels_;
  Stretch stretch_;
  std::size_t wanted_frames_ = 0;
  std::size_t filled_frames_ = 0;
  double angle_rad_ = 0.0;          // turned in the stretch so far
  std::int64_t next_frame_ = 0;     // where the turn that follows begins
  std::int64_t skip_to_frame_ = 0;  // nothing is wanted before it
  std::int64_t gathered_ = 0;
  std::int64_t apart_ = 1;  // stretches from one to the next
};

}  // namespace counterspot
