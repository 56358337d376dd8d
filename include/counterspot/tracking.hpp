#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/angle.hpp"
#include "counterspot/recording.hpp"
#include "counterspot/rig.hpp"
#include "counterspot/tach.hpp"
#include "counterspot/units.hpp"

namespace counterspot {

/// The measured vector of one order at one sensor: x(t) = … + A cos(kθ − φ), value = A e^{jφ}, SI, peak.
struct OrderVector {
  int order = 1;
  Phasor value;                                          ///< SI (m/s², m/s or m), peak
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im), SI²

  double amplitude() const { return std::abs(value); }
  double phase_lag_deg() const { return direction_deg(value); }  ///< [0, 360)
  double u_amplitude() const;                                    ///< standard uncertainty along the vector
  double u_phase_lag_deg()
      const;  ///< standard uncertainty across it, as an angle; 180/√3 when the vector is lost in the noise
};

struct SensorTrack {
  std::string name;
  Motion motion = Motion::acceleration;
  double dc = 0.0;                  ///< SI
  double residual_rms = 0.0;        ///< SI, after DC and all fitted orders
  std::vector<OrderVector> orders;  ///< as asked, ascending
};

/// One steady spin, measured.
struct Track {
  std::string file;
  double speed_rad_s = 0.0;           ///< mean over the turns used
  double speed_drift_fraction = 0.0;  ///< (largest − smallest)/mean of the speed, smoothed over 16 turns
  std::int64_t revolutions = 0;       ///< whole turns used
  double begin_s = 0.0;               ///< of the turns used, from the start of the recording
  double duration_s = 0.0;            ///< of the turns used
  TachReport tach;
  std::vector<SensorTrack> sensors;  ///< in the rig's order
  Warnings warnings;
};

struct TrackOptions {
  std::vector<int> orders = {1};  ///< each 1 to 100, no repeats
  double from_s = 0.0;            ///< use only what lies in [from_s, to_s] of the recording
  double to_s = 1e300;
  std::size_t block_frames = 4096;  ///< how much is read at a time; the result does not depend on it
};

/// Order vectors of a steady spin by least squares on the shaft angle θ(t), DC and all asked orders jointly, over whole
/// turns.
/// @throws Error(recording, …) "no_tach" (no pulses, or fewer than 4 turns), "not_finite" (NaN or infinity: channel and
/// sample),
///         and what Recording::read throws; Error(request, …) for a rig that does not fit the recording.
Track track(Recording& recording, const Rig& rig, const TrackOptions& options = {});

/// Another view of a vector of the given order at the given speed: each integration divides by jω, each differentiation
/// multiplies. With Z = A e^{+jφ} as phase LAG, d/dt is a lead of 90 deg, so the vector of the derivative is
/// kΩ·e^{−jπ/2}·Z.
OrderVector view_as(const OrderVector& vector, Motion from, Motion to, double speed_rad_s);

}  // namespace counterspot
