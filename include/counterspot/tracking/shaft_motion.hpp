#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// Hands go to a shaft only if it stands, and standing is a finding with evidence of its own. `unknown`: it may be
/// turning.
enum class Turning { turning, standing, unknown };
const char* turning_name(Turning turning);  ///< "turning", "standing", "unknown"

/// One pulse of the slowest turning that is told from standing: 6 rpm with one mark (common practice, no source).
inline constexpr double slowest_pulse_s = 10.0;

/// What tach and sensors show at one moment.
struct MotionEvidence {
  enum class Tach {
    silent,   ///< not one pulse since the start
    pulsing,  ///< pulses come as a turning shaft's do
    stopped,  ///< the pulses slowed down to a stop before they ceased, or somebody saw that the shaft stands
    lost,     ///< they ceased while the shaft turned
  };
  enum class Sensors {
    unlearned,  ///< what they show at rest is not known
    at_rest,    ///< no more than at rest
    vibrating,  ///< more than at rest, for longer than a knock lasts
    gone,       ///< so much less than at rest that one of them sees nothing
    no_signal,  ///< one of them gives always the same value
  };
  Tach tach = Tach::silent;
  Sensors sensors = Sensors::unlearned;
  double speed_rad_s = 0.0;       ///< by the newest turn of pulses; 0: not known
  double last_speed_rad_s = 0.0;  ///< that was seen, however long ago; 0: none
  double no_pulse_s = 0.0;        ///< since the tach's signal changed last, or the start
  bool as_when_turning = false;   ///< a sensor shows at least half of the most that it showed while the shaft turned
  std::string sensor;             ///< the one that `sensors` speaks of

  /// Whoever says that a shaft stands which shakes the rig as it did while it turned has not looked. A shaft that
  /// turned slowly shook it no more than it is shaken at rest: that says nothing.
  bool shakes_as_when_turning() const { return as_when_turning && sensors != Sensors::at_rest; }
};

/// Why a shaft may be turning, the gravest first.
enum class MotionDoubt {
  tach_lost,        ///< at no speed that is known
  tach_lost_at,     ///< at `last_speed_rad_s`
  no_pulse,         ///< for `no_pulse_s` only
  as_when_turning,  ///< nobody is let say that it stands
  no_pulse_yet,
  vibrating,
  gone,
  no_signal,
  rest_unknown,
};
const char* motion_doubt_name(MotionDoubt doubt);  ///< "tach_lost"
MotionDoubt doubt_of(const MotionEvidence& evidence);

struct ShaftMotion {
  Turning turning = Turning::unknown;
  double speed_rad_s = 0.0;       ///< while it is turning; 0: not known
  double last_speed_rad_s = 0.0;  ///< the last that was seen; 0: none
  bool tach_lost = false;
  bool may_be_confirmed = false;  ///< somebody who sees that the shaft stands may say so
  std::string words;              ///< "standing", "turning", or why it may be turning
  MotionEvidence evidence;        ///< that it rests on
};

/// The rule. Standing: no pulse for `slowest_pulse_s` from a tach that saw the shaft come to a stop, and no vibration
/// above what the sensors show at rest. Pulses: turning. All else: unknown.
ShaftMotion motion_of(const MotionEvidence& evidence);

/// Follows tach and sensors of a live recording for the evidence. Speed is right from the second pulse on, over the
/// newest turn, and so follows a run-up; below 6 rpm there is none. What the sensors show at rest is learned when
/// somebody who sees the shaft says that it stands: in lines of 2 Hz up to 1 kHz, and what is there four times as large
/// for 1.5 s is vibration. Uses no clock but that of the samples.
class ShaftWatch {
 public:
  /// @throws Error(request, …) for a channel of the rig that the recording does not have.
  ShaftWatch(const RecordingInfo& info, const Rig& rig);
  ShaftWatch(const ShaftWatch&) = delete;
  ShaftWatch& operator=(const ShaftWatch&) = delete;
  ShaftWatch(ShaftWatch&&) = delete;
  ShaftWatch& operator=(ShaftWatch&&) = delete;
  ~ShaftWatch();

  void push(std::span<const double> interleaved);  ///< the next frames
  MotionEvidence evidence() const;
  ShaftMotion motion() const { return motion_of(evidence()); }
  /// While somebody knocks, which the sensors show as well: seen 4.5 s after the shaft came to a steady speed, and not
  /// where it is not known what the sensors show at rest.
  bool turns_among_knocks() const;
  std::int64_t frames() const;                 ///< taken so far
  std::optional<double> last_pulse_s() const;  ///< since the first of them

  /// Somebody sees that the shaft stands: what the sensors show now is what they show at rest. False, and nothing is
  /// learned: `may_be_confirmed` does not hold.
  bool confirm_standing();

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace counterspot
