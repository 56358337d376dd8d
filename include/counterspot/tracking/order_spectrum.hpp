#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tach/tach.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// What one sensor's movement consists of, by order. Line i stands at order i·order_step.
struct OrderSpectrum {
  std::string sensor;
  Motion motion = Motion::acceleration;
  double order_step = 0.0;       ///< orders from line to line
  double noise_bandwidth = 0.0;  ///< of a line, in orders: 1.5 order_step for the window used (Hann)
  /// SI of `motion`, peak: a line of A cos(kθ − φ) shows as A if k stands on a line. Root mean square over the
  /// stretches; the mean of each stretch is taken off first, so that line 0 is about 0.
  std::vector<double> amplitudes;

  double order_at(std::size_t line) const { return static_cast<double>(line) * order_step; }
};

struct OrderSpectrumOptions {
  double highest_order = 10.0;   ///< > 0, ≤ 200
  double order_step = 0.1;       ///< wanted; 0.01 to 1. A stretch is 1/order_step turns, rounded to whole turns
  double slowest_rad_s = 0.0;    ///< only turns at this speed and above count
  double fastest_rad_s = 1e300;  ///< and at this speed and below
  double from_s = 0.0;           ///< only turns that lie in [from_s, to_s] of the recording count
  double to_s = 1e300;
  std::size_t block_frames = 4096;  ///< how much is read at a time; the result does not depend on it
};

/// The finest step that a spin of so many turns has four stretches for, overlapping by half, from 0.02 on: what lies
/// near an order is told from it.
double order_step_of(std::int64_t turns);

struct OrderSpectra {
  std::string file;
  std::vector<OrderSpectrum> sensors;  ///< in the rig's order
  double slowest_rad_s = 0.0;          ///< of the turns used
  double fastest_rad_s = 0.0;
  std::size_t stretches = 0;  ///< averaged
  double turns = 0.0;         ///< used
  TachReport tach;
  Warnings warnings;
};

/// Spectra over the shaft's angle, of a steady spin or of a run-up. Each sensor's signal is read at equal angles (a
/// power of two a turn, at least 2.56 times the highest order) along the shaft-angle clock θ(t), linear from tach edge
/// to tach edge, by band-limited interpolation: x(t) = Σ_n x_n c·sinc(c(t−n))·w(c(t−n)/32) with the Kaiser window w, β
/// = 7.86 (stop band 80 dB down; Kaiser 1974, as in Oppenheim & Schafer, Discrete-Time Signal Processing, 7.6), and c =
/// 0.9 of the lower of the two sample rates, so that neither reading fast nor reading slowly folds anything into the
/// spectrum (Smith & Gossett 1984, A flexible sampling-rate conversion method, ICASSP; order tracking by computed
/// resampling: Fyfe & Munck 1997, Mechanical Systems and Signal Processing 11(2)). Flat to 0.1 % up to `highest_order`,
/// or as far as the sample rate holds: order·speed/2π ≤ 0.4·sample rate at every turn; lines beyond are left out, and a
/// warning (`orders_lowered`) says so. Spectra of stretches that overlap by half, Hann window, their powers averaged
/// (Welch 1967, IEEE Trans. AU-15). One pass; holds two stretches and the turns that are not settled.
/// @throws Error(request, "bad_orders", "bad_order_step"),
/// Error(recording, "no_tach", "too_short" (no whole stretch)), and what track() throws for the recording.
OrderSpectra order_spectra(Recording& recording, const Rig& rig, const OrderSpectrumOptions& options = {});

/// How one sensor's movement spreads over frequency while the speed changes. Row r was taken about speeds_rad_s[r];
/// line i stands at frequency i·frequency_step_Hz. Rows are in the order of time.
struct SpeedFrequencyMap {
  std::string sensor;
  Motion motion = Motion::acceleration;
  double frequency_step_Hz = 0.0;
  std::size_t lines = 0;             ///< of a row, from 0 Hz on
  std::vector<double> times_s;       ///< of the middle of each row, from the start of the recording
  std::vector<double> speeds_rad_s;  ///< mean of each row
  std::vector<float> amplitudes;     ///< SI of `motion`, peak, row by row: rows()·lines of them

  std::size_t rows() const { return speeds_rad_s.size(); }
  double frequency_Hz_at(std::size_t line) const { return static_cast<double>(line) * frequency_step_Hz; }
  double amplitude_at(std::size_t row, std::size_t line) const {
    return static_cast<double>(amplitudes[row * lines + line]);
  }
  /// An order k is a straight line through the map: at the frequency k·speed/2π.
};

/// Frequencies at which a map shows three times what it shows beside them (tried, no source) at half of its speeds and
/// more: an order passes by, a steady line stays. Hz, ascending. Empty for fewer than 8 speeds.
std::vector<double> steady_lines_of(const SpeedFrequencyMap& map);

struct SpeedFrequencyOptions {
  double highest_Hz = 500.0;        ///< > 0; at most half the sample rate is taken
  double frequency_step_Hz = 1.0;   ///< wanted; the step taken is at most this
  std::size_t most_rows = 600;      ///< ≥ 16: when there are more, neighbouring rows are merged two by two
  std::size_t block_frames = 4096;  ///< how much is read at a time; the result does not depend on it
};

struct SpeedFrequencyMaps {
  std::string file;
  std::vector<SpeedFrequencyMap> sensors;  ///< in the rig's order; times and speeds are the same for all
  TachReport tach;
  Warnings warnings;
};

/// The same of another motion, each line at its frequency; what stands at 0 Hz has none.
SpeedFrequencyMaps view_as(const SpeedFrequencyMaps& maps, Motion motion);

/// The map of a run-up or coast-down: spectra over time of stretches that overlap by half (Hann window, mean taken off;
/// Welch 1967), each with the mean speed of the turns in it. Rows that are merged keep the mean of their powers. One
/// pass; memory is bounded by most_rows·lines values a sensor, whatever the recording's length.
/// @throws Error(request, "bad_frequency"), Error(recording, "no_tach", "too_short"), and what track() throws.
SpeedFrequencyMaps speed_frequency_maps(Recording& recording, const Rig& rig,
                                        const SpeedFrequencyOptions& options = {});

}  // namespace counterspot
