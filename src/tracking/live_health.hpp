#pragma once

#include <deque>
#include <optional>
#include <vector>

#include "counterspot/tracking/live_tracking.hpp"
#include "tracking/channel_watch.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/spectrum.hpp"
#include "tracking/stretch.hpp"

namespace counterspot {

/// Whether each sensor gives something now, by the rules that a recorded spin is judged by (`ChannelWatch`): "nothing
/// changes" within a turn or three, what wants a spectrum once in every stretch of 0.7 s and 16 turns. A channel that
/// suddenly shows hardly anything (a tenth of what it showed at this speed, or no more than an open input) is not
/// believed until a whole stretch behind that was looked at. Only a channel that is found to give nothing is said to.
class LiveHealth {
 public:
  LiveHealth(const RecordingInfo& info, const Rig& rig);

  void add(const TurnOfSamples& turn, const TurnSums& sums);
  /// The turns that follow are not those behind the last one.
  void part();
  LiveSignal signal(std::size_t sensor) const;
  /// What the newest stretch, or the newest turns, show of the channels.
  Warnings warnings() const;

 private:
  struct OfTurn {
    bool still = false;
    bool doubted = false;
    Warnings found;
  };
  struct OfSensor {
    std::optional<ChannelWatch> watch;  // of the present stretch
    std::deque<OfTurn> turns;           // the newest
    std::optional<double> rms;          // of the last whole stretch; empty: none was looked at yet
    bool none = false;                  // found in it
    bool was_quiet = false;             // in it
    Warnings found;
  };
  void begin_stretch();
  OfTurn look_at(std::size_t sensor, const TurnOfSamples& turn, const LevelSums& level) const;
  void judge(std::size_t sensor, const Stretch& stretch);
  bool hardly_shows(const OfSensor& sensor, double rms, double frames_per_turn) const;
  SensorTrack as_track(std::size_t sensor) const;
  static bool has_stopped(const OfSensor& sensor);

  const RecordingInfo& info_;
  SensorChannels channels_;
  std::optional<StretchGatherer> gatherer_;
  PowerSpectrum spectrum_;
  std::vector<OfSensor> sensors_;
  double frames_per_turn_ = 0.0;  // of the last whole stretch
};

}  // namespace counterspot
