#pragma once

#include <optional>
#include <vector>

#include "counterspot/tracking/sweep.hpp"
#include "tracking/angle_run.hpp"

namespace counterspot {

struct Envelope;

/// Steady lines in a sweep that one of these orders comes near to, of one sensor.
///
/// Finding: Hann-windowed spectra of blocks in time, half overlapping; the bins that whole orders pass in a block are
/// left out of it. A line stands at its place at slow speeds and at fast ones: the lesser of the median powers in the
/// slower and the faster half of the blocks is 8 times that of the bins around, its power is the same in most of them,
/// and its phase runs on from block to block. An order, whole or not, has moved away; a resonance that rings on dies
/// away.
///
/// Following: one Vold–Kalman component of constant frequency, 0.2 Hz wide, of the turns in which no whole order is
/// near to it; across the others it is bridged. The order that passes is fitted beside it, 0.5 Hz wide.
struct LineFollower {
  std::size_t sensor = 0;
  std::size_t samples_per_turn = 0;
  std::vector<double> orders;  ///< that matter

  std::vector<double> find(const std::vector<AngleRun>& runs) const;  ///< Hz, the strongest first
  /// Takes it off the runs. Empty if it was never seen apart from an order. `sensor` of the result is empty.
  std::optional<FixedLine> take_off(double frequency_Hz, std::vector<AngleRun>& runs) const;

 private:
  Envelope seen_of(const std::vector<AngleRun>& runs, FixedLine& line) const;
  void subtract(const Envelope& envelope, double frequency_Hz, std::vector<AngleRun>& runs) const;
};

}  // namespace counterspot
