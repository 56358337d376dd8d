#pragma once

#include <cstdint>
#include <deque>
#include <vector>

#include "tracking/interpolating_function.hpp"
#include "tracking/sample_run.hpp"

namespace counterspot {

/// How the interpolating function falls off. Its transition is 5·cutoff/crossings wide, in half the lower of the two
/// sample rates, about its cutoff (Kaiser's formula for 80 dB); the work grows with the crossings.
struct FallOff {
  double crossings = 32.0;  ///< zero crossings on either side
  double cutoff = 0.9;      ///< of half the lower sample rate, at half height
};
/// For spectra: flat to 0.83 of half the rate, nothing above it folds in.
inline constexpr FallOff sharp{32.0, 0.9};
/// For what follows orders up to `order` alone: flat so far, and nothing folds in so far down; what lies between may.
/// The fewer orders of those that the rate could carry, the less work.
FallOff flat_up_to(double order, std::size_t samples_per_turn);

/// Reads the sensors at equal angles of the shaft, which gains speed evenly within a turn; equations and sources in
/// order_spectrum.hpp. A target for which not
/// all zero crossings of the interpolating function are within neighbouring turns is left out, so the first and last
/// part of a turn or so of every run are missing.
class AngleResampler {
 public:
  AngleResampler(std::size_t samples_per_turn, std::vector<std::size_t> channels, std::vector<double> scales,
                 FallOff fall_off);

  /// What can be read now that this turn is known is appended to `out`, a row per sensor. False if the turn does not
  /// join the one before it: what is read from it on follows a gap.
  bool add(const TurnOfSamples& turn, std::vector<std::vector<double>>& out);
  void clear();

  /// The first sample that is not read yet, counted in steps of the angle from the clock's zero; what `add` gave ends
  /// before it.
  std::int64_t next() const { return next_; }

  /// How fast the time of a radian grows, in frames per rad², in the newest turn: from up to four turns before it, so
  /// that the marks' jitter is not taken for a change of speed. Unknown, and 0, in the first turn of a run; the second
  /// says it.
  double newest_slope() const { return slopes_.back(); }

 private:
  double slope_of(const Turn& turn);
  std::int64_t target_from(double angle_rad) const;
  /// All that can be read by now. @returns the frame from which on what follows may need them.
  double read_on(std::vector<std::vector<double>>& out);
  void read(double position, double frames_per_target, std::vector<std::vector<double>>& out);

  double step_rad_;
  double cutoff_;
  InterpolatingFunction function_;
  SampleRun run_;
  std::deque<Turn> lately_;      // up to four turns of the run, and the newest
  std::deque<double> slopes_;    // of the turns of run_
  std::vector<double> weights_;  // of one target
  bool started_ = false;
  std::int64_t next_ = 0;  // target, counted in steps of the angle from the clock's zero
};

}  // namespace counterspot
