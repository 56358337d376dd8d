#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tach/tach.hpp"
#include "counterspot/tracking/speed_slope.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// One entry of the uncertainty budget of a vector (GUM, JCGM 100:2008, 5.1 and Annex H).
struct BudgetItem {
  std::string source;  ///< what it is, in plain words
  char type = 'A';     ///< 'A': from statistics of this spin; 'B': from other knowledge
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im) of the vector, SI²
  bool counted = true;  ///< part of the vector's covariance; false: contained in another entry, or common to every spin
                        ///< on the rig, where it cancels in the correction
};

/// The measured vector of one order at one sensor: x(t) = … + A cos(kθ − φ), value = A e^{jφ}, SI, peak.
struct OrderVector {
  double order = 1.0;
  Phasor value;                                          ///< SI (m/s², m/s or m), peak
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im), SI²; the sum of the counted budget entries
  std::vector<BudgetItem> budget = {};                   ///< empty if the vector was not measured by track()
  SpeedSlope slope = {};                                 ///< all zero if the vector was not measured by track()

  double amplitude() const { return std::abs(value); }
  double phase_lag_deg() const { return direction_deg(value); }  ///< [0, 360)
  double u_amplitude() const;                                    ///< standard uncertainty along the vector
  double u_phase_lag_deg()
      const;  ///< standard uncertainty across it, as an angle; 180/√3 when the vector is lost in the noise
};

/// Whether a steady component stands still over time (mains hum, a neighbouring machine) or over the shaft's angle (a
/// gear, a belt). At a speed that hardly changes both look the same.
enum class Steadiness { in_time, in_angle, either };

/// A steady component is surely found, and named for what it is if the speed drifts enough to show it, from a tenth of
/// an order up to three above the highest asked for; with an amplitude of at least twelve standard uncertainties of an
/// order's amplitude where it lies, and 2 % of the largest whole order; two cycles over the spin from any whole order
/// and five from others of its kind; in spins of at least 24 turns. Of those below that, some are found too.
inline constexpr double sure_over_uncertainty = 12.0;
inline constexpr double sure_share_of_largest = 0.02;

/// A steady component that is no whole order, fitted along.
struct SteadyLine {
  double frequency_Hz = 0.0;  ///< mean over the spin
  double amplitude = 0.0;     ///< SI, peak
  double order = 0.0;         ///< frequency over that of the shaft, mean over the spin
  Steadiness steady = Steadiness::either;
};

/// What a sensor shows in one band beside the whole orders and whatever steady lines are in it: its own noise, the
/// converter's, and that of the running rig.
struct NoiseBand {
  double from_Hz = 0.0;
  double to_Hz = 0.0;
  double rms = 0.0;         ///< SI
  double u_fraction = 0.0;  ///< standard uncertainty of rms by chance, as a fraction of it, if the noise is stationary
};

struct SensorTrack {
  std::string name;
  Motion motion = Motion::acceleration;
  double dc = 0.0;                  ///< SI
  double step = 0.0;                ///< SI: the converter's step as the samples show it; 0 if they do not
  double level_change = 0.0;        ///< SI: of the rest level from beginning to end, fitted along
  double residual_rms = 0.0;        ///< SI, after DC and all fitted orders
  std::vector<OrderVector> orders;  ///< as asked, ascending
  std::vector<SteadyLine> lines;    ///< found beside the orders and fitted along, by frequency
  double noise_rise = 1.0;          ///< variance of the noise at an order over that beside it, largest of the orders
  std::int64_t knocks = 0;          ///< runs of turns that count for less because something struck
  std::int64_t breaks = 0;          ///< times the signal went away or its level stepped
  double broadband_rms = 0.0;       ///< SI, root of the sum of squares of `bands`; 0 if there are none
  /// Octaves from 10 Hz up, the last one to 0.4 of the sample rate. From spectra of 16 to 32 turns, 16 of them side by
  /// side, in a longer spin further ones further apart: of what lies four lines and more beside whole orders the lower
  /// quartile of power, as the noise that has this quartile, and its median over the spectra. Lines (hum, neighbours,
  /// belts, gears) and a few knocks hardly move it.
  /// Empty if the turns used are fewer than one spectrum takes.
  std::vector<NoiseBand> bands = {};
};

/// Order 2 larger than this is said (`order_2_dominant`): it comes from joints and phasing, and no weight removes it.
/// Judged by its own size, since beside an order 1 that was balanced away everything is large. The limits are those
/// that ISO 20816-3 (from memory; 10816-3 before) sets between its zones B and C for medium machines on rigid supports,
/// fit for long operation or not: 2.8 mm/s, and under 10 Hz 45 um (both r.m.s.). They are made for all orders together.
inline constexpr double order_2_velocity_m_s = 2.8e-3;
inline constexpr double order_2_displacement_m = 45e-6;
inline constexpr double order_2_slow_Hz = 10.0;

/// One steady spin, measured.
struct Track {
  std::string file;
  double speed_rad_s = 0.0;           ///< mean over the turns used
  double speed_drift_fraction = 0.0;  ///< (largest − smallest)/mean of the speed, smoothed over 16 turns
  double speed_scatter_fraction =
      0.0;  ///< standard deviation over mean of the speed from turn to turn, without the part that edge timing makes
  double u_mean_speed_fraction = 0.0;  ///< standard uncertainty of the mean of a speed that scatters so
  std::int64_t revolutions = 0;        ///< whole turns used
  double begin_s = 0.0;                ///< of the turns used, from the start of the recording
  double duration_s = 0.0;             ///< of the turns used
  bool trimmed = false;                ///< only the steady part of the recording was used
  TachReport tach;
  std::vector<SensorTrack> sensors;  ///< in the rig's order
  Warnings warnings;
};

struct TrackOptions {
  /// Each 0.1 to 100, in steps of 0.001, no repeats. Of orders that are no whole numbers θ counts on from turn to turn,
  /// from the first edge of the recording, so their phase depends on where the recording begins; whole orders up to two
  /// above the highest are fitted along with them, unasked, lest they leak.
  std::vector<double> orders = {1.0};
  double from_s = 0.0;  ///< use only what lies in [from_s, to_s] of the recording
  double to_s = 1e300;
  bool fit_disturbances =
      true;  ///< fit steady neighbours along and let knocked turns count for less; false: plain least squares
  bool find_steady = true;  ///< use only the longest steady stretch of a recording whose speed changes by more than 5 %
  std::size_t block_frames = 4096;  ///< how much is read at a time; the result does not depend on it
};

/// Order vectors of a steady spin by least squares on the shaft angle θ(t), DC and all asked orders jointly, over whole
/// turns.
/// @throws Error(recording, …) "no_tach" (no pulses, or fewer than 4 turns), "more_marks" (the tach sees more marks a
/// turn than the rig file states), "too_short_for_order" (fewer than four cycles of it, or of its distance to the
/// nearest order beside it), "not_finite" (NaN or infinity: channel and sample),
///         and what Recording::read throws; Error(request, …) for a rig that does not fit the recording.
Track track(Recording& recording, const Rig& rig, const TrackOptions& options = {});

/// Another view of a vector of the given order at the given speed: each integration divides by jω, each differentiation
/// multiplies. With Z = A e^{+jφ} as phase LAG, d/dt is a lead of 90 deg, so the vector of the derivative is
/// kΩ·e^{−jπ/2}·Z.
/// @throws Error(request, "no_sensitivity") as refuse_without_scale.
OrderVector view_as(const OrderVector& vector, Motion from, Motion to, double speed_rad_s);

/// @throws Error(request, "no_sensitivity") if volts are to be shown as a motion: what one is worth is not known.
void refuse_without_scale(Motion from, Motion to);

}  // namespace counterspot
