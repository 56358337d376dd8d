#pragma once

#include "counterspot/model/rig.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "tracking/joint_fit.hpp"

namespace counterspot {

/// Corrects a vector for the sensor's AC coupling and states where its uncertainty comes from.
///  - noise: the covariance of the joint fit, from the residual beside the order; it holds what tach and speed do from
///  turn to turn;
///  - tach timing: of that, what independent errors of the edges make: kΩσ_t/√turns across the vector;
///  - speed hunting: what the speed's changes within the spin make, |dZ/dΩ|·u(Ω̄), with u(Ω̄) of the mean of a speed that
///  scatters as it did. The slope is measured in the spin if that tells more than the model (growth_exponent ± 1) does,
///  or contradicts it. Not added: the vector is stated at the mean of the speeds that were measured, where the first
///  order of it cancels, and a spin at another speed is brought to it;
///  - curved response: the second order, Z''·s²/2 with s the scatter of the speed, in a direction not known, and Z'' as
///  in largest_curvature;
///  - AC coupling: a first-order high-pass H = 1/(1 − jf_c/f) in front of the converter is taken out: Z ← Z(1 + jf_c/f)
///  for phase lag;
///    what is not known of f_c stays;
///  - mounting: a sensor that looks in a direction off by ε reads a phase off by ε (circular motion of the pedestal).
/// @param hunting_share of the variance of the turns' speeds that is hunting, not timing: the measured slope is too
/// small by it (errors in the variable; Fuller, Measurement Error Models, 1987, 1.1). Coupling and mounting are the
/// same for every spin on the rig and are not counted.
OrderVector stated_vector(double order, const JointFit& fit, const MotionUnit& unit, const Sensor& sensor,
                          const Track& spin, double hunting_share);

}  // namespace counterspot
