#pragma once

#include <cstdint>
#include <optional>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/warning.hpp"
#include "tracking/spin_stream.hpp"

namespace counterspot {

/// Which way the shaft turns, by the two channels of an encoder: when A rises, B is still low if A leads; at the
/// same sample both tell nothing. Nothing is learnt where the recording has fewer than six samples to a pulse, or other
/// than the stated pulses to a turn.
class EncoderWatch {
 public:
  /// @throws Error(request, "no_such_channel").
  EncoderWatch(const RecordingInfo& info, const Rig& rig);

  void add(const TurnOfSamples& turn);

  /// Seen from the viewing end. Empty without an encoder, or if its pulses do not agree.
  std::optional<Rotation> rotation() const;

  /// "direction_unknown", if turns were seen and their pulses do not tell.
  std::optional<Warning> doubt() const;

  /// "wrong_direction", if the shaft turned against what the rig file says.
  std::optional<Error> refusal(const std::string& recording) const;

 private:
  std::optional<EncoderPair> pair_;
  Rotation stated_;
  std::string viewing_end_;
  double rate_Hz_ = 0.0;
  int a_level_ = -1;  // 1 high, 0 low, −1 not known yet
  int b_level_ = -1;
  std::size_t a_ = 0;
  std::size_t b_ = 0;
  std::int64_t a_first_ = 0;  // rising edges of A while B is low
  std::int64_t b_first_ = 0;
  double turns_ = 0.0;         // all that were seen
  double samples_ = 0.0;       // in them
  double unlike_turns_ = 0.0;  // those with enough samples, and other than the stated pulses
  std::int64_t unlike_edges_ = 0;
};

}  // namespace counterspot
