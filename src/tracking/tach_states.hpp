#pragma once

#include <cstddef>
#include <vector>

#include "tracking/stretch.hpp"

namespace counterspot {

/// Follows the two states of a tach signal from turn to turn, in units of a sample.
class TachStates {
 public:
  /// @param channel of the stretch.
  void add(const Stretch& stretch, std::size_t channel, double level);

  /// How far the low (the high) state moved: the range of the lowest (highest) sample of a turn, after a running median
  /// over five turns, so that glare or one weak pulse does not count. 0 if a state lasts fewer than four samples: then
  /// where the samples fall on a pulse makes its height.
  double low_moved() const;
  double high_moved() const;

 private:
  struct Side {
    std::vector<double> extremes;  // of each turn
    std::vector<double> lasting;   // samples per turn
    double moved() const;
  };
  Side low_;
  Side high_;
};

}  // namespace counterspot
