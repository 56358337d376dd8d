#include "tracking/tach_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "tracking/health_text.hpp"

namespace counterspot {
namespace {

constexpr double rough_edge_turn = 1.0 / 360.0;  // one degree of phase on every edge
constexpr double weak_pulse_noises = 10.0;       // pulse height over noise
constexpr double several_turns = 5.0;            // without a pulse
constexpr double many_lost = 0.2;                // of all pulses
constexpr double slow_turn = 1.5;                // of the mean length of a turn
constexpr double goes_on = 0.5;                  // of the root mean square within the turns
constexpr double moved_height = 0.2;             // of the height of a pulse
constexpr double moved_noises = 3.0;
constexpr std::size_t most_gaps = 16;

bool beside_slow_turn(const Unseen& unseen, double frames_per_turn) {
  return std::max(unseen.frames_per_turn_before, unseen.frames_per_turn_behind) > slow_turn * frames_per_turn;
}

bool sensors_go_on(const Unseen& unseen, const std::vector<ChannelWatch>& sensors) {
  const auto frames = static_cast<double>(unseen.end_frame - unseen.begin_frame);
  for (std::size_t s = 0; s < sensors.size(); ++s) {
    const double rms = std::sqrt(unseen.square[s] / frames);
    if (rms > 0.0 && rms >= goes_on * sensors[s].rms()) return true;
  }
  return false;
}

std::string gap_text(const TachGap& gap, double recorded_s, double speed_rad_s) {
  const double turn_s = turn_rad / speed_rad_s;
  if (gap.end_s > recorded_s - turn_s)
    return fmt::format("it stopped at {:.1f} s of {:.1f} s, and the sensors go on", gap.begin_s, recorded_s);
  if (gap.begin_s < turn_s)
    return fmt::format("it began at {:.1f} s, and the sensors show that the shaft turned before", gap.end_s);
  return fmt::format("it showed nothing from {:.1f} s to {:.1f} s, for {:.0f} turns", gap.begin_s, gap.end_s,
                     (gap.end_s - gap.begin_s) / turn_s);
}

void report_lost_tach(Track& track, double recorded_s) {
  const TachReport& tach = track.tach;
  std::string found;
  const auto say = [&](const std::string& text) { found += (found.empty() ? "" : ", ") + text; };
  for (const TachGap& gap : tach.gaps) say(gap_text(gap, recorded_s, track.speed_rad_s));
  if (tach.longest_bridge_turns >= several_turns)
    say(fmt::format("{:.0f} turns in a row were without a pulse", tach.longest_bridge_turns));
  const auto all = static_cast<double>(tach.pulses + tach.lost);
  if (static_cast<double>(tach.lost) > many_lost * all)
    say(fmt::format("{} of {:.0f} pulses are missing", tach.lost, all));
  if (!found.empty()) track.warnings.push_back({WarningCode::tach_lost, "tach", "tach: " + found});
}

void report_changed_tach(Track& track) {
  const TachReport& tach = track.tach;
  const double least = std::max(moved_height * (tach.high - tach.low), moved_noises * tach.noise);
  if (std::max(tach.low_moved, tach.high_moved) <= least) return;
  const bool low = tach.low_moved > tach.high_moved;
  track.warnings.push_back(
      {WarningCode::tach_changed, "tach",
       fmt::format("tach: the {} level of its pulses moved by {:.2g}, of a height of {:.2g}, so its edges did too",
                   low ? "lower" : "upper", low ? tach.low_moved : tach.high_moved, tach.high - tach.low)});
}

}  // namespace

void report_lost_and_extra(const TachReport& tach, Warnings& warnings) {
  if (tach.lost > 0) {
    warnings.push_back({WarningCode::lost_pulses, "tach",
                        fmt::format("tach: {} lost and bridged; look at the mark's contrast and the sensor's distance",
                                    plural(tach.lost, "pulse was", "pulses were"))});
  }
  if (tach.doubled > 0) {
    warnings.push_back({WarningCode::double_pulses, "tach",
                        fmt::format("tach: {} dropped; look for glare or a mark that peels off",
                                    plural(tach.doubled, "extra edge was", "extra edges were"))});
  }
}

std::vector<TachGap> tach_gaps(const SpinStream& stream, FrameRange asked, const Track& track,
                               const std::vector<ChannelWatch>& sensors, double rate_Hz) {
  const double frames_per_turn = rate_Hz * turn_rad / track.speed_rad_s;
  std::vector<TachGap> gaps;
  for (const Unseen& unseen : stream.unseen()) {
    const double begin = std::max(asked.begin, static_cast<double>(unseen.begin_frame));
    const double end = std::min(asked.end, static_cast<double>(unseen.end_frame));
    if (end - begin < several_turns * frames_per_turn || gaps.size() == most_gaps) continue;
    if (beside_slow_turn(unseen, frames_per_turn) || !sensors_go_on(unseen, sensors)) continue;
    gaps.push_back({begin / rate_Hz, end / rate_Hz});
  }
  return gaps;
}

void report_tach(Track& track, double recorded_s) {
  const TachReport& tach = track.tach;
  report_lost_tach(track, recorded_s);
  report_changed_tach(track);
  report_lost_and_extra(tach, track.warnings);
  const double jitter_turn = tach.timing_uncertainty_s * track.speed_rad_s / turn_rad;
  if (jitter_turn > rough_edge_turn) {
    track.warnings.push_back(
        {WarningCode::tach_jitter, "tach",
         fmt::format("tach: edges waver by {:.2f} deg; fasten the sensor and sharpen the mark's edge",
                     360.0 * jitter_turn)});
  }
  if (tach.noise > 0.0 && (tach.high - tach.low) < weak_pulse_noises * tach.noise) {
    track.warnings.push_back(
        {WarningCode::weak_tach, "tach",
         fmt::format("tach: pulses are only {:.1f} times the noise; clean the mark or move the sensor closer",
                     (tach.high - tach.low) / tach.noise)});
  }
}

}  // namespace counterspot
