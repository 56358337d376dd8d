#pragma once

#include <deque>
#include <mutex>

#include "counterspot/tracking/live_tracking.hpp"
#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

/// What the sensors showed in the last minute, turn by turn, ten times a second at most. Where there were no vectors,
/// or a sensor gave nothing, is a gap.
class LiveCourse {
 public:
  static constexpr double kept_s = 60.0;

  void add(const LiveReading& reading);
  Sweep all() const;
  /// The newest run-up or coast-down alone, up to now: back to where the speed last went the other way. Its points.
  Sweep last_run() const;

 private:
  mutable std::mutex mutex_;  // of all below
  std::vector<std::string> names_;
  std::vector<Motion> motions_;
  std::deque<SweepPoint> points_;
};

}  // namespace counterspot
