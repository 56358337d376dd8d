#pragma once

#include <functional>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/shaft_motion.hpp"
#include "counterspot/tracking/tracking.hpp"

namespace counterspot {

/// Whether a sensor gives something, by the rules that a recorded spin is judged by. `doubted`: it suddenly shows
/// hardly anything, and was not looked at for long enough since then to say why.
enum class LiveSignal { good, doubted, none };

/// What the rig shows now.
struct LiveReading {
  double at_s = 0.0;             ///< in the stream: the tach edge that ends the newest turn used
  double newest_s = 0.0;         ///< in the stream: the newest sample read when this was worked out
  ShaftMotion motion;            ///< whether it turns, stands, or may be turning
  double speed_rad_s = 0.0;      ///< over the newest turns of 0.2 s, at least one; 0: not known to turn
  std::int64_t revolutions = 0;  ///< turns the vectors rest on; 0: no vectors

  struct Sensor {
    std::string name;
    Motion motion = Motion::acceleration;
    OrderVector vector;  ///< order 1
    LiveSignal signal = LiveSignal::good;
  };
  std::vector<Sensor> sensors;  ///< in the rig's order; empty while too few turns are seen
  Warnings health = {};         ///< what the channels of the sensors show: dead, quiet, clipped, cut off
};

struct LiveTrackingOptions {
  double window_s = 0.1;    ///< the vectors rest on the newest turns of this length, and on at least 3
  double every_s = 0.03;    ///< of the stream: a reading comes as soon as a turn ends this long after the last, or half
                            ///< as much later without one
  double patience_s = 2.5;  ///< without a turn the shaft's clock begins anew, and the tach's level is learned anew
};

/// Follows a live recording until it ends: ordinary least squares of DC and order 1 over the newest turns (as `track`
/// with fit_disturbances off). A reading comes one pulse after its newest turn ended (the next pulse may show that an
/// edge was an extra one), so at n rpm it is 60/n s plus a block of samples old, and a change of the vibration is half
/// of `window_s` behind that. Where there is no such turn (a run-up, a shaft that turns slowly or stands) readings come
/// as well, without vectors: speed and motion are then those of `watch`, which takes every sample, and whose first
/// sample is where times of the stream begin.
/// @throws Error as track, except that a tach without pulses is no error.
void follow(Recording& recording, const Rig& rig, ShaftWatch& watch,
            const std::function<void(const LiveReading&)>& on_reading, const LiveTrackingOptions& options = {});

}  // namespace counterspot
