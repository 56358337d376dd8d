#pragma once

#include <optional>
#include <span>

namespace counterspot {

/// The two states of a pulse signal, in the units of its samples.
struct States {
  double low = 0.0;
  double high = 0.0;
  double noise = 0.0;  ///< standard deviation of sample-to-sample noise (from second differences)
};

/// State levels by the histogram method of IEEE Std 181-2011, 5.2: the amplitude range is halved, and the fullest bin
/// of each half is a state. We depart in two points: 0.05 % of the samples are cut off at either end (spikes), and a
/// state is the median of the samples within two bins of the fullest, so that it is not bound to the grid of the
/// histogram. Empty if there are fewer than 16 samples or no two states: their distance must be at least 3.5 times the
/// spread within the one where the signal mostly is (pure noise of any usual shape stays below 3, a sine gives 4.6).
std::optional<States> find_states(std::span<const double> samples);

}  // namespace counterspot
