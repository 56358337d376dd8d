#pragma once

#include <vector>

namespace rigsim {

/// Part of a spin in which the speed changes evenly from what it was to `end_rad_s`.
struct SpeedStretch {
  double duration_s = 0.0;  ///< > 0
  double end_rad_s = 0.0;   ///< > 0
};

/// How fast the drive turns the shaft. After the last stretch the speed is held.
struct SpeedPlan {
  double start_rad_s = 0.0;  ///< > 0: the shaft is never quite at rest
  std::vector<SpeedStretch> stretches;
  double hunting_rad_s = 0.0;  ///< amplitude of the slow wander of the drive
  double hunting_Hz = 0.3;
  double hunting_phase_rad = 0.0;
  double start_angle_rad = 0.0;  ///< where the mark stands at the first sample

  double lowest_rad_s() const;
};

/// Shaft angle, speed and acceleration at one moment.
struct Turning {
  double angle_rad = 0.0;
  double speed_rad_s = 0.0;
  double acceleration_rad_s2 = 0.0;
};

/// θ(t) in closed form: ω(t) = plan + a·cos(2πft + p), θ its integral. Strictly rising.
class SpeedCurve {
 public:
  /// @throws std::invalid_argument if the hunting would stop or reverse the shaft.
  explicit SpeedCurve(const SpeedPlan& plan);

  Turning at(double time_s) const;

  /// When the shaft comes to an angle; @param guess_s from which Newton's method starts. To 1e-12 s.
  double time_of(double angle_rad, double guess_s) const;

 private:
  struct Piece {
    double begin_s, angle_rad, speed_rad_s, acceleration_rad_s2;
  };
  SpeedPlan plan_;
  std::vector<Piece> pieces_;
};

}  // namespace rigsim
