#pragma once

#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"

namespace rigsim {

/// A rig on its first day, cabled and mounted as it happens, and what its owner does to find out how.
///
/// The physics of turns and spins is that of dynamics.hpp. A knock meets a pedestal with no shaft on: a mass on a
/// spring and a damper, tied to the other by a spring through the bed,
///   m_i ẍ_i + c_i ẋ_i + k_i x_i + b (x_i − x_other) = F_i(t),
/// integrated by the classical Runge–Kutta method in steps of at most 50 us.
struct FirstDay {
  Scenario scenario;                     ///< the shaft's marks and weights are here, as the rig's own physics sees them
  std::array<std::size_t, 3> channel{};  ///< 0-based, of sensor A, of B, of the tach
  std::size_t channels = 3;              ///< one may be left over, with nothing on it but noise
  std::array<bool, 2> inverted{};        ///< the sensor's wires, or it itself, are turned over
  bool from_a_counter_clockwise = true;  ///< how the shaft turns for who stands at end A
  bool viewed_from_a = true;             ///< where the owner reads the clock
  double bed_N_m = 0.0;
  double sound_card_Hz = 0.0;  ///< corner of the high-pass at each input; 0: none
  double floor_V = 0.0;        ///< noise of an input
  std::uint64_t seed = 1;

  /// Where something sits that is so far clockwise from the mark for who looks from the viewing end: shaft angles count
  /// against the rotation.
  double shaft_angle_of(double clockwise_rad) const;
};

/// Everything drawn from one seed: tubes and pedestals as random_scenario; channels in any order, a fourth in some;
/// sensors, tach and rotation either way; two marks in some, one of them the wider; a frayed mark in some; in some a
/// sound card of 16 bits that lets nothing through under 15 Hz.
FirstDay random_first_day(std::uint64_t seed);

Recorded at_rest(const FirstDay& day, std::uint64_t seed, bool drive_on);

/// Three knocks. @param towards the sensor, as it should be.
Recorded knocks(const FirstDay& day, int pedestal, bool towards, std::uint64_t seed);
/// From half a turn before the mark, unevenly.
Recorded hand_turning(const FirstDay& day, double turns, std::uint64_t seed);
Recorded slow_run(const FirstDay& day, std::uint64_t seed, double seconds = 12.0);
Recorded balancing_spin(const FirstDay& day, const std::vector<UnbalanceSlice>& fitted, std::uint64_t seed,
                        double seconds = 6.0);
struct ModeTruth {
  double natural_rad_s = 0.0;  ///< |s|
  double damping_ratio = 0.0;  ///< −Re s/|s|
};
/// Of rig and shaft together, from the poles s of their own equations of motion, M q'' + C q' + K q = 0, by speed: two
/// of the pedestals' movement, and the bending of the shaft.
std::vector<ModeTruth> modes_of(const FirstDay& day);
/// Evenly, well over the first two.
Recorded top_run(const FirstDay& day, std::uint64_t seed, double seconds);
double top_rad_s(const FirstDay& day);

/// From a speed to a stand.
Recorded coast_down(const FirstDay& day, double from_rad_s, const std::vector<UnbalanceSlice>& fitted,
                    std::uint64_t seed, double seconds = 3.0);
/// What a hand-held shaker does.
struct ShakerTruth {
  double frequency_Hz = 1000.0 / 6.283185307179586;
  double m_s2_rms = 10.0;
  double wander = 0.0;  ///< of its size, either way
  double seconds = 8.0;
};
/// One of the sensors on it, from a second and a half on.
Recorded on_shaker(const FirstDay& day, int sensor, const ShakerTruth& shaker, std::uint64_t seed);

/// The known weight that the owner has: three times the half of the limit, so that it changes what is read without
/// doubt.
double known_mass_kg(const FirstDay& day);
/// Weighed well, and put by eye: 1 % and 2 deg, one standard deviation.
UnbalanceSlice known_weight(const FirstDay& day, int plane, double clockwise_rad, std::uint64_t seed);

}  // namespace rigsim
