#pragma once

#include <complex>
#include <cstdint>
#include <deque>
#include <vector>

#include "counterspot/sweep.hpp"
#include "tracking/angle_resampler.hpp"

namespace counterspot {

/// Vectors of whole orders, turn by turn. The signals are read at equal angles, which makes the orders of a turn
/// orthogonal whatever the sample rate and lets nothing above them fold in: a sum over the turn is its least-squares
/// fit. The first and last turn or so of a run are left out: the interpolation reaches beyond them.
class TurnVectors {
 public:
  TurnVectors(std::vector<double> orders, std::size_t samples_per_turn, const std::vector<std::size_t>& channels,
              std::vector<double> scales);

  /// Points that are known now, with their vectors, are appended.
  void add(const TurnOfSamples& turn, SweepPoint point, std::vector<SweepPoint>& points);

 private:
  struct Waiting {
    std::int64_t begin;  // samples, as AngleResampler counts them
    std::int64_t end;
    SweepPoint point;
  };
  void measure(Waiting& turn) const;

  std::vector<double> orders_;
  std::int64_t per_turn_;
  AngleResampler resampler_;
  std::vector<std::vector<double>> signals_;  // [sensor], up to resampler_.next()
  std::deque<Waiting> waiting_;
};

}  // namespace counterspot
