#include "tracking/angle_run.hpp"

#include <cmath>

namespace counterspot {

AngleRuns::AngleRuns(std::size_t samples_per_turn, const std::vector<std::size_t>& channels, std::vector<double> scales,
                     FallOff fall_off)
    : samples_per_rad_(static_cast<double>(samples_per_turn) / turn_rad),
      sensors_(channels.size()),
      resampler_(samples_per_turn, channels, std::move(scales), fall_off) {}

void AngleRuns::add(const TurnOfSamples& turn, double sample_rate_Hz) {
  std::vector<std::vector<double>> fresh(sensors_);
  const bool joined = resampler_.add(turn, fresh);
  const auto count = static_cast<std::int64_t>(fresh.front().size());
  if (!joined || runs_.empty()) runs_.emplace_back().signals.resize(sensors_);
  AngleRun& run = runs_.back();
  if (run.size() == 0) {
    const std::int64_t before = run.first;
    run.first = resampler_.next() - count;
    for (AngleTurn& earlier : run.turns) earlier.begin_sample -= run.first - before;
  }
  for (std::size_t s = 0; s < sensors_; ++s)
    run.signals[s].insert(run.signals[s].end(), fresh[s].begin(), fresh[s].end());
  run.turns.push_back({turn.turn.begin_frame / sample_rate_Hz, turn.turn.end_frame / sample_rate_Hz,
                       std::llround(turn.turn.begin_angle_rad * samples_per_rad_) - run.first,
                       turn.frames.step_rad * sample_rate_Hz});
  const double angle_rad = turn.turn.end_angle_rad - turn.turn.begin_angle_rad;
  run.turns.back().bend_s = 0.5 * resampler_.newest_slope() * angle_rad * angle_rad / sample_rate_Hz;
  if (run.turns.size() == 2) run.turns.front().bend_s = run.turns.back().bend_s;
}

}  // namespace counterspot
