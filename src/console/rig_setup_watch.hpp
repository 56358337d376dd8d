#pragma once

#include <optional>
#include <span>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/shaft_motion.hpp"
#include "tracking/channel_spans.hpp"

namespace counterspot {

/// Whether hands may go to a rig of which little is known yet.
enum class SetupMotion {
  unheard,   ///< too few samples so far
  moving,    ///< something may turn: a channel shows more than at rest, or the tach says so
  asked,     ///< nothing speaks against it, and nobody has said that all stands
  standing,  ///< somebody said so, and nothing has spoken against it since
};

/// Moving is a channel that spans more than at rest, or a shaft that ShaftWatch does not see stand, once sensors and
/// tach are known.
class SetupWatch {
 public:
  explicit SetupWatch(const RecordingInfo& info);

  void push(std::span<const double> interleaved);
  void know_rest(Recording& rest);        ///< reads it to its end
  void know_rig(std::optional<Rig> rig);  ///< empty: not known any more
  void confirm();                         ///< somebody sees that all stands. @throws Error(request, "may_turn")
  void forget();                          ///< the drive may run from now on
  SetupMotion motion();
  bool turns_among_knocks() const;  ///< that of ChannelSpans

 private:
  RecordingInfo info_;
  ChannelSpans spans_;
  std::vector<double> at_rest_;
  std::optional<Rig> rig_;
  std::optional<ShaftWatch> shaft_;
  bool confirmed_ = false;
};

}  // namespace counterspot
