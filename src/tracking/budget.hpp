#pragma once

#include "counterspot/rig.hpp"
#include "counterspot/tracking.hpp"
#include "tracking/joint_fit.hpp"

namespace counterspot {

/// Corrects a vector for the sensor's AC coupling and states where its uncertainty comes from.
///  - noise: the covariance of the joint fit, from the residual beside the order; it holds what tach and speed do from
///  turn to turn;
///  - tach timing: of that, what independent errors of the edges make: kΩσ_t/√turns across the vector;
///  - AC coupling: a first-order high-pass H = 1/(1 − jf_c/f) in front of the converter is taken out: Z ← Z(1 + jf_c/f)
///  for phase lag;
///    what is not known of f_c stays;
///  - mounting: a sensor that looks in a direction off by ε reads a phase off by ε (circular motion of the pedestal).
/// @param scale SI units a sample. The last two are the same for every spin on the rig and are not counted.
OrderVector stated_vector(int order, const JointFit& fit, double scale, const Sensor& sensor, const Track& spin);

}  // namespace counterspot
