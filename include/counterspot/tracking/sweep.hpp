#pragma once

#include <complex>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tach/tach.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// The weight r² of the structural equation of a Vold–Kalman filter of the second generation whose envelope is 3 dB
/// down at an offset of `bandwidth` times the Nyquist frequency from the order (Tůma, Setting the passband width in the
/// Vold–Kalman order tracking filter, ICSV12, 2005). @param poles 1 to 3. @param bandwidth in (0, 1).
double vold_kalman_weight(int poles, double bandwidth);

/// Several orders at once by the second-generation Vold–Kalman filter (Vold & Leuridan 1993, SAE 931288; Tůma 2005) of
/// real signals:
///   minimise ½ Σ_n |y_n − 2 Re Σ_k x_k(n) c_k(n)|² + r² Σ_k Σ_n |∇^p x_k(n)|²
/// with complex envelopes x_k, carriers c_k = e^{jkθ} and p poles: A cos(kθ − φ) is x c + its conjugate, A e^{jφ} = 2
/// x*. The usual form leaves the conjugate to the filter, which keeps it out but for the ends: there it has one side,
/// and 8 % come through (at 0.1 orders and two poles). Sparse Cholesky (Eigen, LDLᵀ) of the banded normal equations,
/// which every channel shares. Crossing orders come apart because they are solved jointly. Memory: about 4(p + 1)·K²
/// numbers a sample.
/// @param channels each as long as the carriers. @param carriers one per order; magnitude about 1.
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
  /// Steady lines to be fitted along, of every sensor; not given: what the spectrum in time of the sweep shows
  std::optional<std::vector<double>> fixed_lines_Hz;
  std::size_t block_frames = 4096;
};

/// The vectors of one turn of a run-up or coast-down.
struct SweepPoint {
  double time_s = 0.0;  ///< middle of the turn, from the start of the recording
  double speed_rad_s = 0.0;
  std::vector<std::vector<Phasor>> vectors;  ///< [sensor][order], SI, peak, phase lag as in tracking
  /// [sensor][order], standard, of each part of the vector, from how single turns scatter; empty if it is not known: of
  /// orders that are no whole numbers.
  std::vector<std::vector<double>> u = {};
};

/// A resonance passed during the sweep, as one sensor shows it by order 1: of rig and shaft together (ISO 1925 calls it
/// a resonance speed of the system; a critical speed of the shaft it is only where the shaft itself is what bends).
struct Resonance {
  std::string sensor;
  double speed_rad_s = 0.0;  ///< undamped natural frequency ω_n, the lag behind the change of speed taken off
  double u_speed_rad_s = 0.0;
  double damping_ratio = 0.0;  ///< ζ
  double u_damping_ratio = 0.0;
  double circle_speed_rad_s = 0.0;  ///< the same from the circle fit
  double circle_damping_ratio = 0.0;
  double peak_amplitude = 0.0;    ///< SI, of the sensor's motion
  double peak_speed_rad_s = 0.0;  ///< where it moved most: behind ω_n in the direction of the change of speed
};

/// A line of constant frequency that a tracked order comes near to: hum, or a neighbour that runs steadily. It was
/// fitted along and is in no order.
struct FixedLine {
  std::string sensor;
  double frequency_Hz = 0.0;
  double amplitude = 0.0;   ///< SI, peak, median over the sweep
  double passing_Hz = 0.0;  ///< an order nearer than this is what is left beside the line, bridged; 0: none passes it
  double u_bridged = 0.0;   ///< SI, standard, of one part: what bridges as long make of the line where it is seen
};

/// Speeds that one resonance, or several that overlap, keep people from.
struct SpeedSpan {
  double from_rad_s = 0.0;
  double to_rad_s = 0.0;
};
/// By 30 % either way or five half-power widths, whichever is more (common practice, no source); ascending, apart.
std::vector<SpeedSpan> speeds_to_keep_from(const std::vector<Resonance>& resonances);

struct Sweep {
  std::string file;
  std::vector<std::string> sensors;
  std::vector<Motion> motions;
  std::vector<double> orders;
  std::vector<SweepPoint> points;
  /// By sensor, then by speed; only those whose ± earns them, and where order 1 is more than order 2.
  std::vector<Resonance> resonances;
  std::vector<FixedLine> lines;
  std::vector<std::string> advice;  ///< one sentence each, on the balancing speed; it holds for all resonances at once
  TachReport tach;
  Warnings warnings;
};

/// Tracks orders through a run-up or coast-down, one value per turn. Vold–Kalman works on the mean signal of equal
/// angles (16 a turn or more, at least four times the highest order), in overlapping stretches. Memory: these samples,
/// and the points. Steady lines that an order comes near to are found in the spectrum in time, followed with a
/// bandwidth of their own, bridged where an order passes them, and taken off before.
/// @throws as track(); Error(request, "bad_orders", "bad_bandwidth", "no_slow_roll", "bad_line").
Sweep sweep(Recording& recording, const Rig& rig, const SweepOptions& options = {});

/// The same of another motion: each point at its speed, lines and peaks at theirs.
Sweep view_as(const Sweep& sweep, Motion motion);

/// Order 1 of sensors of one motion over one turn of a sweep.
struct SweptTurn {
  double time_s = 0.0;  ///< middle of the turn; ascending
  double speed_rad_s = 0.0;
  std::vector<Phasor> vectors;  ///< [sensor], SI, peak, phase lag; mean over the turn
  double weight = 1.0;          ///< 0: not known
};

/// The resonances in order 1 of a sweep. Each is a mode with viscous damping, driven by an unbalance whose angle is
/// θ(t):
///   q'' + 2ζω_n q' + ω_n² q = R Re{(Ω² − jΩ') e^{jθ}},
/// solved as it is for the speeds that the sweep ran through (not as if it dwelt at each), so that the lag of the peak
/// behind the change of speed (Lewis 1932, Trans. ASME 54, APM-54-24) is in the model. What other resonances and the
/// run-out add near it is a polynomial of second degree in Ω. Neighbours are fitted together: least squares, R and the
/// polynomial projected out, Gauss–Newton in ω_n and ζ. These two are of rig and shaft, the same at every sensor: one
/// that moves little in a mode would place it by what other modes leave of it, so all sensors are fitted at once, each
/// weighed by what it leaves.
/// Uncertainties are standard ones, from the residual, times how far it is correlated from turn to turn; with what a
/// fit to the nearer half of the speeds says otherwise; and with a twentieth of ζω_n and of ζ, which the model itself
/// may be off on a rig whose pedestals damp differently (from simulated coast-downs of such rigs, whose poles are
/// known). A resonance is given only if ±2u of its speed is within 3 %, and of its damping within 60 %; if speeds on
/// both sides were run through; and if ζ is at most 0.2. The circle fit stands beside it: velocity over Ω² of the
/// response brought to the steady state by the model is a circle through the origin (Ewins, Modal Testing, 2000, 4.3).
/// @return [sensor], those that make a twentieth and more of its motion near them, by speed; `sensor` is empty.
std::vector<std::vector<Resonance>> find_resonances(std::span<const SweptTurn> turns, Motion motion);

}  // namespace counterspot
