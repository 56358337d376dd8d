#pragma once

#include <functional>
#include <string>
#include <vector>

#include "counterspot/recording.hpp"
#include "counterspot/rig.hpp"
#include "counterspot/tracking.hpp"

namespace counterspot {

/// What the rig shows now.
struct LiveReading {
  double at_s = 0.0;             ///< in the stream: the tach edge that ends the newest turn used
  double newest_s = 0.0;         ///< in the stream: the newest sample read when this was worked out
  double speed_rad_s = 0.0;      ///< over the newest turns of 0.2 s, at least one; 0: it does not turn
  std::int64_t revolutions = 0;  ///< turns the vectors rest on; 0: no vectors

  struct Sensor {
    std::string name;
    Motion motion = Motion::acceleration;
    OrderVector vector;  ///< order 1
  };
  std::vector<Sensor> sensors;  ///< in the rig's order; empty while too few turns are seen
};

struct LiveTrackingOptions {
  double window_s = 0.4;    ///< the vectors rest on the newest turns of this length, and on at least 4
  double every_s = 0.1;     ///< of the stream: a reading comes as soon as a turn ends this long after the last
  double patience_s = 1.0;  ///< without a turn the shaft counts as standing, and the tach's level is learned anew
};

/// Follows a live recording until it ends: ordinary least squares of DC and order 1 over the newest turns (as `track`
/// with fit_disturbances off). A reading comes one pulse after its newest turn ended (the next pulse may show that an
/// edge was an extra one), so at n rpm it is 60/n s plus a block of samples old, and a change of the vibration is half
/// of `window_s` behind that. When the shaft stands, a reading with speed 0 comes every `patience_s`.
/// @throws Error as track, except that a tach without pulses is a shaft that stands.
void follow(Recording& recording, const Rig& rig, const std::function<void(const LiveReading&)>& on_reading,
            const LiveTrackingOptions& options = {});

}  // namespace counterspot
