#include "rigsim/speed.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace rigsim {

double SpeedPlan::lowest_rad_s() const {
  double lowest = start_rad_s;
  for (const SpeedStretch& stretch : stretches) lowest = std::min(lowest, stretch.end_rad_s);
  return lowest;
}

SpeedCurve::SpeedCurve(const SpeedPlan& plan) : plan_(plan) {
  if (!(plan.lowest_rad_s() > std::abs(plan.hunting_rad_s))) {
    throw std::invalid_argument("the shaft must keep turning: raise the lowest speed above the hunting");
  }
  double time_s = 0.0;
  double angle_rad = plan.start_angle_rad;
  double speed_rad_s = plan.start_rad_s;
  for (const SpeedStretch& stretch : plan.stretches) {
    double acceleration = (stretch.end_rad_s - speed_rad_s) / stretch.duration_s;
    pieces_.push_back({time_s, angle_rad, speed_rad_s, acceleration});
    angle_rad += 0.5 * (speed_rad_s + stretch.end_rad_s) * stretch.duration_s;
    time_s += stretch.duration_s;
    speed_rad_s = stretch.end_rad_s;
  }
  pieces_.push_back({time_s, angle_rad, speed_rad_s, 0.0});
}

Turning SpeedCurve::at(double time_s) const {
  std::size_t i = pieces_.size() - 1;
  while (i > 0 && time_s < pieces_[i].begin_s) --i;
  Piece piece = pieces_[i];
  // Before the start the speed is that of the start: a run-up followed backwards would turn the shaft round.
  if (time_s < 0.0) piece.acceleration_rad_s2 = 0.0;
  double since_s = time_s - piece.begin_s;
  Turning turning{piece.angle_rad + since_s * (piece.speed_rad_s + 0.5 * since_s * piece.acceleration_rad_s2),
                  piece.speed_rad_s + since_s * piece.acceleration_rad_s2, piece.acceleration_rad_s2};
  if (plan_.hunting_rad_s != 0.0) {
    double rate = 2.0 * std::numbers::pi * plan_.hunting_Hz;
    double phase = rate * time_s + plan_.hunting_phase_rad;
    turning.angle_rad += plan_.hunting_rad_s / rate * (std::sin(phase) - std::sin(plan_.hunting_phase_rad));
    turning.speed_rad_s += plan_.hunting_rad_s * std::cos(phase);
    turning.acceleration_rad_s2 -= plan_.hunting_rad_s * rate * std::sin(phase);
  }
  return turning;
}

double SpeedCurve::time_of(double angle_rad, double guess_s) const {
  // Before the start the speed is even, and near rest that is long before.
  const Piece& first = pieces_.front();
  double time_s = angle_rad < first.angle_rad ? (angle_rad - first.angle_rad) / first.speed_rad_s
                                              : std::max(first.begin_s, guess_s);
  for (int i = 0; i < 50; ++i) {
    Turning turning = at(time_s);
    // From near rest a full step would leap far past the run-up that follows.
    double step_s = std::clamp((angle_rad - turning.angle_rad) / turning.speed_rad_s, -1.0, 1.0);
    time_s += step_s;
    if (std::abs(step_s) < 1e-12) break;
  }
  return time_s;
}

}  // namespace rigsim
