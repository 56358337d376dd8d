#pragma once

#include <cstdint>
#include <vector>

#include "counterspot/tach/tach.hpp"
#include "tracking/angle_resampler.hpp"

namespace counterspot {

/// A turn and where its samples at equal angles are.
struct AngleTurn {
  double begin_s = 0.0;
  double end_s = 0.0;
  std::int64_t begin_sample = 0;  ///< in its run; may be before the first or behind the last that could be read
  double speed_rad_s = 0.0;
  double bend_s = 0.0;  ///< the time of a part of the turn is this much times part (1 − part) before that at even speed
  double time_s(double part) const { return begin_s + (end_s - begin_s) * part - bend_s * part * (1.0 - part); }
  double part_at(double time_s) const {  // to first order in the bend, which is a hundredth of the turn
    const double even = (time_s - begin_s) / (end_s - begin_s);
    return even + bend_s / (end_s - begin_s) * even * (1.0 - even);
  }
  double middle_s() const { return 0.5 * (begin_s + end_s); }
};

/// The sensors at equal angles of the shaft, over turns that follow one another without a gap.
struct AngleRun {
  std::int64_t first = 0;                    ///< angle of the first sample, in steps from the clock's zero
  std::vector<std::vector<double>> signals;  ///< [sensor][sample], SI
  std::vector<AngleTurn> turns;
  std::size_t size() const { return signals.front().size(); }
  /// Whether all samples of the turn could be read.
  bool holds(const AngleTurn& turn, std::size_t samples_per_turn) const {
    return turn.begin_sample >= 0 &&
           turn.begin_sample + static_cast<std::int64_t>(samples_per_turn) <= static_cast<std::int64_t>(size());
  }
};

/// Gathers turns into runs.
class AngleRuns {
 public:
  AngleRuns(std::size_t samples_per_turn, const std::vector<std::size_t>& channels, std::vector<double> scales,
            FallOff fall_off);
  void add(const TurnOfSamples& turn, double sample_rate_Hz);
  std::vector<AngleRun> finish() { return std::move(runs_); }

 private:
  double samples_per_rad_;
  std::size_t sensors_;
  AngleResampler resampler_;
  std::vector<AngleRun> runs_;
};

}  // namespace counterspot
