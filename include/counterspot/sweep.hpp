#pragma once

#include <complex>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/angle.hpp"
#include "counterspot/recording.hpp"
#include "counterspot/rig.hpp"
#include "counterspot/tach.hpp"
#include "counterspot/units.hpp"

namespace counterspot {

/// The weight r² of the structural equation of a Vold–Kalman filter of the second generation whose envelope is 3 dB
/// down at an offset of `bandwidth` times the Nyquist frequency from the order (Tůma, Setting the passband width in the
/// Vold–Kalman order tracking filter, ICSV12, 2005). @param poles 1 to 3. @param bandwidth in (0, 1).
double vold_kalman_weight(int poles, double bandwidth);

/// Several orders at once by the second-generation Vold–Kalman filter (Vold & Leuridan 1993, SAE 931288; Tůma 2005):
///   minimise Σ_n |y_n − Σ_k x_k(n) c_k(n)|² + r² Σ_k Σ_n |∇^p x_k(n)|²
/// with complex envelopes x_k, carriers c_k = e^{jkθ} and p poles. Sparse Cholesky (Eigen, LDLᴴ) of the banded normal
/// equations, which every channel shares. A real signal has A cos(kθ − φ) = x c + its conjugate: A e^{jφ} = 2 x*.
/// Crossing orders come apart because they are solved jointly. Memory: (poles + 1)·K² complex numbers a sample.
/// @param channels each as long as the carriers. @param carriers one an order; magnitude about 1.
/// @return envelopes x as [channel][order][sample].
std::vector<std::vector<std::vector<std::complex<double>>>> vold_kalman(
    const std::vector<std::vector<double>>& channels, const std::vector<std::vector<std::complex<double>>>& carriers,
    int poles, double bandwidth);

enum class SweepMethod {
  vold_kalman,  ///< envelopes over angle, smooth and with orders told apart
  per_turn,     ///< least squares over each single turn
};

struct SweepOptions {
  std::vector<double> orders = {1.0};  ///< 0.1 to 100; not whole ones only by Vold–Kalman, θ counting on
  SweepMethod method = SweepMethod::vold_kalman;
  int poles = 2;
  double bandwidth_orders = 0.1;  ///< offset from the order at which the envelope is 3 dB down
  std::optional<double>
      slow_roll_below_rad_s;  ///< the mean vector of the turns below this speed is run-out and taken off
  std::size_t block_frames = 4096;
};

/// The vectors of one turn of a run-up or coast-down.
struct SweepPoint {
  double time_s = 0.0;  ///< middle of the turn, from the start of the recording
  double speed_rad_s = 0.0;
  std::vector<std::vector<Phasor>> vectors;  ///< [sensor][order], SI, peak, phase lag as in tracking
};

/// A resonance passed during the sweep, from the order 1 vector of one sensor.
struct CriticalSpeed {
  std::string sensor;
  double speed_rad_s = 0.0;  ///< undamped natural frequency ω_n: where the phase lag has turned by 90 deg
  double u_speed_rad_s = 0.0;
  double damping_ratio = 0.0;  ///< ζ
  double u_damping_ratio = 0.0;
  double circle_speed_rad_s = 0.0;  ///< the same from the circle fit
  double circle_damping_ratio = 0.0;
  double peak_amplitude = 0.0;  ///< SI, of the sensor's motion
  double peak_speed_rad_s = 0.0;
};

struct Sweep {
  std::string file;
  std::vector<std::string> sensors;
  std::vector<Motion> motions;
  std::vector<double> orders;
  std::vector<SweepPoint> points;
  std::vector<CriticalSpeed> critical;
  std::vector<std::string> advice;  ///< one sentence each, on the balancing speed
  TachReport tach;
  Warnings warnings;
};

/// Tracks orders through a run-up or coast-down, one value a turn. Vold–Kalman works on the mean signal of equal angles
/// (16 a turn or more, at least four times the highest order), in overlapping stretches, so memory does not grow with
/// the recording beyond the points.
/// @throws as track(); Error(request, "bad_orders", "bad_bandwidth", "no_slow_roll").
Sweep sweep(Recording& recording, const Rig& rig, const SweepOptions& options = {});

/// Fit of a single degree of freedom to order 1 vectors over speed:
///   Z(Ω) = V(Ω)·[ R Ω²/(ω_n² − Ω² − 2jζω_nΩ) + B Ω² ], V = 1, −jΩ, −Ω² for displacement, velocity, acceleration (phase
///   lag convention),
/// B standing for resonances further away. Least squares (variable projection, Gauss–Newton); standard uncertainties
/// from the residual. Circle fit beside it: V⁻¹Z/Ω² times −jΩ is a circle through the origin for viscous damping
/// (Ewins, Modal Testing, 2000, 4.3). Empty if there is no peak with three half-power widths of data around it, or the
/// phase turns by less than 60 deg through it.
std::optional<CriticalSpeed> fit_critical_speed(std::span<const double> speeds_rad_s, std::span<const Phasor> vectors,
                                                Motion motion);

}  // namespace counterspot
