#pragma once

#include <cstddef>
#include <vector>

#include "tracking/stretch.hpp"

namespace counterspot {

/// Looks for tops that are cut off, wherever in front of the converter: a signal that goes up to the same value turn
/// after turn, and stays there. Of what a smooth top has within 4δ of its end, it has half within δ (a sine), 0.71
/// (x − x³: as flat as an order 3 can make it) or 0.76 (two humps); what is cut off has nearly all. δ is 0.3, 1 or 3 %
/// of the range, and at least a step of the converter. Cut off is an end that has over 0.8 within δ, a hundredth of all
/// samples, and is reached in every second turn. (Limits: common practice, no source.)
class PlateauWatch {
 public:
  void add(const Stretch& stretch, std::size_t channel);

  /// Where it is cut off, from below, in units of a sample: both ends, or one that is beyond doubt (over 0.92 of it,
  /// three hundredths of all samples and eight in a turn), in at least half of the stretches. None if it is not.
  std::vector<double> levels() const;

 private:
  std::size_t looks_ = 0;
  std::vector<double> tops_;  // of the stretches that are cut off
  std::vector<double> bottoms_;
};

}  // namespace counterspot
