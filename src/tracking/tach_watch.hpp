#pragma once

#include <cstddef>
#include <optional>

#include "counterspot/model/rig.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "tracking/channel_watch.hpp"
#include "tracking/tach_states.hpp"

namespace counterspot {

/// The part of a recording that was asked for.
struct FrameRange {
  double begin = 0.0;
  double end = 0.0;
};

/// Warns of lost pulses that were bridged and extra edges that were dropped.
void report_lost_and_extra(const TachReport& tach, Warnings& warnings);

/// Where the tach shows nothing and the sensors go on. A gap of five turns and more counts if the turns beside it were
/// not slow (a shaft that comes from rest or goes to it has no pulses by right) and a sensor shows at least half of
/// what it shows within the turns.
std::vector<TachGap> tach_gaps(const SpinStream& stream, FrameRange asked, const Track& track,
                               const std::vector<ChannelWatch>& sensors, double rate_Hz);

/// Appends what is wrong with the tach; `track.tach` is filled in.
void report_tach(Track& track, double recorded_s);

}  // namespace counterspot
