#pragma once

#include "counterspot/units/angle.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

/// How a vector changes with speed, dZ/dΩ.
struct SpeedSlope {
  Phasor per_rad_s;          ///< SI·s/rad
  double u_per_rad_s = 0.0;  ///< standard uncertainty of either part
  bool measured = false;     ///< from the hunting of the speed within the spin; false: the model of growth_exponent
};

/// Away from resonances an unbalance response grows as |Z| ~ Ω^n, its phase unchanged. Far below a pedestal's resonance
/// displacement grows with Ω², far above it stays (rotating-unbalance response, any vibrations textbook); n is halfway
/// between: 1, 2, 3 for displacement, velocity, acceleration, with 1 for its standard uncertainty.
double growth_exponent(Motion motion);

/// The second derivative |d²Z/dΩ²| that goes with a slope, SI·s²/rad²: 2·|dZ/dΩ|²/|Z| for one degree of freedom near
/// its resonance, where Z ~ 1/(ω_n² − Ω² − 2jζω_nΩ) is curved most; further away it is less. 0 if Z is.
double largest_curvature(const Phasor& value, const Phasor& slope_per_rad_s);

}  // namespace counterspot
