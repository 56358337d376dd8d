#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "tracking/noise_spectrum.hpp"
#include "tracking/plateau.hpp"
#include "tracking/spin_stream.hpp"
#include "tracking/turn_sums.hpp"

namespace counterspot {

/// Watches one sensor's channel go by, and says at the end whether it is alive and whole.
class ChannelWatch {
 public:
  /// @param channel 0-based, in the recording.
  ChannelWatch(const RecordingInfo& info, std::size_t channel);

  void add(const TurnOfSamples& turn, const LevelSums& level);
  /// @param powers of this channel in the stretch, by PowerSpectrum.
  void add(const Stretch& stretch, std::size_t channel_of_stretch, std::span<const double> powers);

  /// Fills in what the sensor shows beside orders and lines in the turns used.
  void describe(SensorTrack& sensor, const Track& spin, double si_per_unit);

  /// No reading: nothing changes in at least half of the turns, or all of it is smaller than a millionth of full scale.
  bool dead() const;

  /// Hardly more than the converter's own noise: nothing turns with the shaft, and beside lines of the mains the noise
  /// is under 1e-5 of full scale (what converters of 24 bits show with open inputs; common practice, no source) or two
  /// of its steps.
  bool quiet(const SensorTrack& sensor) const;
  static constexpr double open_input_fraction = 1e-5;  ///< of full scale

  void report(const SensorTrack& sensor, Warnings& warnings) const;

  /// Root mean square within the turns, about the mean of each.
  double rms() const;
  const NoiseSpectrum& spectrum() const { return spectrum_; }

 private:
  const RecordingInfo& info_;
  std::size_t channel_;
  std::int64_t held_at_end_ = 0;  // samples at the end of the range that equal the one before
  double largest_square_ = 0.0;
  std::int64_t turns_ = 0;
  std::int64_t still_turns_ = 0;
  double square_ = 0.0;
  double frames_ = 0.0;
  std::vector<double> steps_;  // of each stretch
  double si_per_unit_ = 1.0;
  NoiseSpectrum spectrum_;
  PlateauWatch plateau_;
};

}  // namespace counterspot
