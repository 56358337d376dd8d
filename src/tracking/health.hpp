#pragma once

#include <optional>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/channel_watch.hpp"
#include "tracking/sensor_channels.hpp"
#include "tracking/spectrum.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/stretch.hpp"
#include "tracking/tach_watch.hpp"
#include "tracking/turn_sums.hpp"

namespace counterspot {

/// Watches the samples of a spin go by, and says at the end what looked ill.
class HealthWatch {
 public:
  HealthWatch(const RecordingInfo& info, const Rig& rig);

  /// @throws Error(recording, "not_finite") if the sums of a used channel are not finite.
  void add(const TurnOfSamples& turn, const TurnSums& sums, const SpinStream& stream);

  /// Fills in what the sensors show beside orders and lines, and how the tach fared.
  void describe(Track& track, const SpinStream& stream, FrameRange asked);

  /// Appends the warnings on sensors, tach and speed.
  void report(Track& track, const SpinStream& stream) const;

  /// Why this is no reading at all, if it is none: "dead_channel", "impossible_speed".
  std::optional<Error> refusal(const Track& track) const;

 private:
  const RecordingInfo& info_;
  SensorChannels sensors_;
  std::vector<ChannelWatch> channels_;  // of each sensor
  bool has_tach_channel_ = false;
  double tach_scale_ = 1.0;   // volts per sample
  StretchGatherer gatherer_;  // of the sensors, then the tach
  PowerSpectrum spectrum_;
  TachStates tach_;
};

}  // namespace counterspot
