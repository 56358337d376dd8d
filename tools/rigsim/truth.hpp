#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/units.hpp"
#include "rigsim/speed.hpp"

namespace rigsim {

using counterspot::Phasor;

/// What is really there, as no instrument sees it. SI throughout. Angles as in the product: shaft angle β from the mark
/// against the rotation, U = m·r·e^{jβ}; phase lag φ, x(t) = A cos(θ − φ).

/// Mass off the axis, in a thin slice of the shaft, or a weight that was fitted.
struct UnbalanceSlice {
  double position_m = 0.0;
  Phasor unbalance_kg_m;
};

struct EndMass {
  double position_m = 0.0;
  double mass_kg = 0.0;
};

struct ShaftTruth {
  double tube_begin_m = 0.0;
  double tube_end_m = 0.0;
  double tube_kg_m = 0.0;                    ///< mass per length
  double tube_bending_stiffness_N_m2 = 0.0;  ///< E·I
  double bending_damping = 0.005;            ///< fraction of critical
  std::vector<EndMass> ends;                 ///< yokes, flanges, the arbor that turns with the shaft
  double support_a_m = 0.0;
  double support_b_m = 0.0;
  std::vector<UnbalanceSlice> slices;
  /// Order 2 from the joints: a force of J·Ω²·cos(2θ − arg J) on support A and B. kg·m, by likeness with unbalance.
  std::array<Phasor, 2> joints;

  double mass_kg() const;
  double center_of_mass_m() const;
};

/// A tube that is bent between the supports like a half sine: every slice of it sits off the axis.
void add_bow(ShaftTruth& shaft, double middle_m, double direction_rad);

struct Pedestal {
  double mass_kg = 0.0;
  double stiffness_N_m = 0.0;
  double damping_N_s_m = 0.0;
};

struct SensorTruth {
  std::string name;
  int pedestal = 0;  ///< 0: A, 1: B
  counterspot::Motion motion = counterspot::Motion::acceleration;
  double volts_per_si = 0.0;
  double coupling_Hz = 0.5;    ///< corner of the AC coupling (one pole); 0: coupled to DC
  double noise_si_rtHz = 0.0;  ///< white, one-sided amplitude density
  double pink_si = 0.0;        ///< 1/f part: amplitude density at 1 Hz, SI/√Hz
  double hum_V = 0.0;          ///< amplitude at the mains frequency
};

struct TachTruth {
  int pulses_per_revolution = 1;  ///< evenly spaced; of several, the first is twice as wide
  double low_V = 0.2;             ///< low above high: a sensor that pulls down, θ = 0 at the falling edge
  double high_V = 4.8;
  double width_rad = 0.15;  ///< of the tape
  double rise_s = 150e-6;   ///< from low to high; half height is at θ = 0
  double jitter_s = 0.0;    ///< standard deviation of one edge
  double rough_s = 0.0;     ///< and beyond that of the one where the mark comes: a frayed edge of the tape
  double noise_V = 0.0;
};

/// A steady line from a machine on the same floor, as a force on each pedestal.
struct Neighbour {
  double frequency_Hz = 0.0;
  std::array<double, 2> force_N{};
  double phase_rad = 0.0;
};

struct RecorderTruth {
  double sample_rate_Hz = 5120.0;
  double full_scale_V = 10.0;
  int bits = 24;  ///< 0: no steps and no end of the range
};

struct RigTruth {
  std::array<Pedestal, 2> pedestals;
  double sensor_angle_rad = 0.0;  ///< from the tach to the measuring direction, in the direction of rotation
  std::vector<SensorTruth> sensors;
  TachTruth tach;
  std::vector<Neighbour> neighbours;
  double mains_Hz = 50.0;
  RecorderTruth recorder;
};

/// A half-sine blow against a pedestal.
struct Knock {
  double at_s = 0.0;
  int pedestal = 0;
  double peak_N = 0.0;
  double duration_s = 0.003;
};

/// A cable whose contact goes: the recorder sees nothing of the sensor but its own level.
struct Dropout {
  int sensor = 0;
  double at_s = 0.0;
  double duration_s = 0.0;
};

/// A cable that is pulled: the level steps, and the AC coupling lets it go again.
struct LevelStep {
  int sensor = 0;
  double at_s = 0.0;
  double step_V = 0.0;
};

struct SpinTruth {
  SpeedPlan speed;
  double duration_s = 5.0;
  std::vector<UnbalanceSlice> fitted;  ///< weights on the shaft in this spin, as they really are
  std::vector<Knock> knocks;
  std::vector<int> lost_pulses;  ///< counted from the first pulse of the recording, 0-based
  std::vector<Dropout> dropouts;
  std::vector<LevelStep> level_steps;
  std::vector<int> double_pulses;  ///< followed by a short second one
  std::uint64_t seed = 1;
};

}  // namespace rigsim
