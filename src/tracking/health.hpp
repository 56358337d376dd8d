#pragma once

#include <cstdint>
#include <vector>

#include "counterspot/recording.hpp"
#include "counterspot/tracking.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/turn_sums.hpp"

namespace counterspot {

/// Warns of lost pulses that were bridged and extra edges that were dropped.
void report_lost_and_extra(const TachReport& tach, Warnings& warnings);

/// Watches the samples of a spin go by, and says at the end what looked ill.
class HealthWatch {
 public:
  HealthWatch(const RecordingInfo& info, std::vector<std::size_t> channels);

  /// @throws Error(recording, "not_finite") if the sums of a used channel are not finite.
  void add(const TurnOfSamples& turn, const TurnSums& sums, const SpinStream& stream);

  /// Appends the warnings on sensors, tach and speed.
  void report(Track& track) const;

 private:
  struct Seen {
    std::int64_t held_at_end = 0;  // samples at the end of the range that equal the one before
    double largest_square = 0.0;
    double first = 0.0;
    bool varies = false;
  };
  const RecordingInfo& info_;
  std::vector<std::size_t> channels_;
  std::vector<Seen> seen_;
};

}  // namespace counterspot
