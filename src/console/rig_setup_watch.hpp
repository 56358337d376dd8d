#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <span>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/shaft_motion.hpp"
#include "tracking/rest_level.hpp"

namespace counterspot {

/// Whether hands may go to a rig of which little is known yet.
enum class SetupMotion {
  unheard,   ///< too few samples so far
  moving,    ///< something may turn: a channel shows more than at rest, or the tach says so
  asked,     ///< nothing speaks against it, and nobody has said that all stands
  standing,  ///< somebody said so, and nothing has spoken against it since
};

/// What a channel spans within a tenth of a second, its median over the newest two: knocks are too short to be in it.
/// Moving is four times what it was at rest (common practice, no source), or a shaft that ShaftWatch does not see
/// stand, once sensors and tach are known.
class SetupWatch {
 public:
  explicit SetupWatch(const RecordingInfo& info)
      : info_(info), now_(info.channels.size()), lines_(info.channels.size(), RestLevel(info.sample_rate_Hz)) {}

  void push(std::span<const double> interleaved);
  void know_rest(Recording& rest);        ///< reads it to its end
  void know_rig(std::optional<Rig> rig);  ///< empty: not known any more
  void confirm();                         ///< somebody sees that all stands. @throws Error(request, "may_turn")
  void forget();                          ///< the drive may run from now on
  SetupMotion motion();
  /// As ShaftWatch has it, of every channel. Or one spans more than at rest all the while, and always as much: so the
  /// tach, of which nobody knows yet that it is one, shows a shaft while its speed still changes.
  bool turns_among_knocks() const;

 private:
  struct Span {
    double low = 1e300, high = -1e300;
  };
  bool vibrating() const;

  RecordingInfo info_;
  std::vector<Span> now_;
  std::int64_t frames_ = 0;  ///< in the spans that are not complete
  std::deque<std::vector<double>> spans_;
  std::vector<double> at_rest_;
  std::vector<RestLevel> lines_;  ///< of each channel, for what lasts among knocks
  std::optional<Rig> rig_;
  std::optional<ShaftWatch> shaft_;
  bool confirmed_ = false;
};

}  // namespace counterspot
