#include "console/live_course.hpp"

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

constexpr double course_every_s = 0.1;
constexpr double gap_s = 0.5;
constexpr double run_turns_back = 0.02;  // a speed that goes back by more has begun another run

SweepPoint point_of(const LiveReading& reading, std::size_t sensors) {
  const Phasor unknown(std::nan(""), std::nan(""));
  SweepPoint point{reading.newest_s, reading.speed_rad_s, {}, {}};
  point.vectors.assign(sensors, {unknown});
  for (std::size_t s = 0; s < reading.sensors.size() && s < sensors; ++s)
    if (reading.sensors[s].signal == LiveSignal::good) point.vectors[s] = {reading.sensors[s].vector.value};
  return point;
}

}  // namespace

void LiveCourse::add(const LiveReading& reading) {
  const std::scoped_lock lock(mutex_);
  if (names_.empty()) {
    for (const LiveReading::Sensor& sensor : reading.sensors) {
      names_.push_back(sensor.name);
      motions_.push_back(sensor.motion);
    }
  }
  if (names_.empty()) return;
  const double since_s = points_.empty() ? INFINITY : reading.newest_s - points_.back().time_s;
  if (since_s < course_every_s) return;
  if (since_s > gap_s) {
    LiveReading none;
    none.newest_s = reading.newest_s;
    points_.push_back(point_of(none, names_.size()));
  }
  points_.push_back(point_of(reading, names_.size()));
  while (points_.front().time_s < reading.newest_s - kept_s) points_.pop_front();
}

Sweep LiveCourse::all() const {
  const std::scoped_lock lock(mutex_);
  Sweep sweep;
  sweep.sensors = names_;
  sweep.motions = motions_;
  sweep.orders = {1.0};
  sweep.points.assign(points_.begin(), points_.end());
  return sweep;
}

Sweep LiveCourse::last_run() const {
  Sweep sweep = all();
  std::erase_if(sweep.points, [](const SweepPoint& point) { return point.speed_rad_s <= 0.0; });
  const std::vector<SweepPoint>& points = sweep.points;
  double slowest = INFINITY;
  double fastest = 0.0;
  int way = 0;  // 1: older ones were slower
  std::size_t first = points.size();
  while (first > 0) {
    const double speed = points[first - 1].speed_rad_s;
    if (first < points.size() && points[first].time_s - points[first - 1].time_s > 2.0) break;  // it stood meanwhile
    slowest = std::min(slowest, speed);
    fastest = std::max(fastest, speed);
    if (way == 0 && fastest > (1.0 + 2.0 * run_turns_back) * slowest) way = speed < fastest ? 1 : -1;
    if (way > 0 && speed > (1.0 + run_turns_back) * slowest) break;
    if (way < 0 && speed < (1.0 - run_turns_back) * fastest) break;
    --first;
  }
  sweep.points.erase(sweep.points.begin(), sweep.points.begin() + static_cast<std::ptrdiff_t>(first));
  return sweep;
}

}  // namespace counterspot
