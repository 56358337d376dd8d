#include <algorithm>
#include <cmath>

#include "algebra/median.hpp"
#include "counterspot/rig_setup/findings.hpp"
#include "counterspot/units/error.hpp"
#include "rig_setup/quiet.hpp"

namespace counterspot {

Take read_take(Recording& recording) {
  const RecordingInfo& info = recording.info();
  Take take{info.sample_rate_Hz, info.full_scale, std::vector<std::vector<double>>(info.channels.size())};
  for (;;) {
    const auto block = recording.next(4096);
    if (block.empty()) break;
    for (std::size_t i = 0; i < block.size(); ++i) take.channels[i % take.channels.size()].push_back(block[i]);
  }
  // Times are no signal.
  if (info.time_channel) std::ranges::fill(take.channels[static_cast<std::size_t>(*info.time_channel)], 0.0);
  if (static_cast<double>(take.channels.front().size()) < take.sample_rate_Hz) {
    throw Error(Trouble::recording, "too_short", info.name + " holds less than a second",
                "record from before the first act to after the last");
  }
  return take;
}

Quiet quiet_of(const std::vector<double>& samples) {
  const double level = median_of(samples);
  std::vector<double> off;
  off.reserve(samples.size());
  for (const double x : samples) off.push_back(std::abs(x - level));
  constexpr double sigma_per_median = 1.4826;
  const double largest = *std::max_element(off.begin(), off.end());
  return {level, sigma_per_median * median_of(std::move(off)), largest};
}

}  // namespace counterspot
