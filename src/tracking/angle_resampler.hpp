#pragma once

#include <cstdint>
#include <vector>

#include "tracking/sample_run.hpp"

namespace counterspot {

/// Reads the sensors at equal angles of the shaft; equations and sources in order_spectrum.hpp. A target whose 64 zero
/// crossings of the interpolating function are not all within neighbouring turns is left out, so the first and last
/// part of a turn or so of every run are missing.
class AngleResampler {
 public:
  AngleResampler(std::size_t samples_per_turn, std::vector<std::size_t> channels, std::vector<double> scales);

  /// What can be read now that this turn is known is appended to `out`, a row a sensor. False if the turn does not join
  /// the one before it: what is read from it on follows a gap.
  bool add(const TurnOfSamples& turn, std::vector<std::vector<double>>& out);
  void clear();

  /// The first sample that is not read yet, counted in steps of the angle from the clock's zero; what `add` gave ends
  /// before it.
  std::int64_t next() const { return next_; }

 private:
  void read(double position, double frames_per_target, std::vector<std::vector<double>>& out);

  double step_rad_;
  SampleRun run_;
  std::vector<double> shape_;  // the interpolating function, finely
  bool started_ = false;
  std::int64_t next_ = 0;  // target, counted in steps of the angle from the clock's zero
};

}  // namespace counterspot
