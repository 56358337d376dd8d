#pragma once

#include <vector>

#include "rigsim/speed.hpp"
#include "rigsim/truth.hpp"

namespace rigsim {

/// What each sensor is moved by, after its AC coupling: SI of its motion, one value per sample.
///
/// The equations of motion are integrated in time, so hunting, run-ups through a resonance and knocks are as they would
/// be, not a string of steady states. State y = (q, q̇, coupling), ẏ = A y + B Q(t):
///   y(t+h) = e^{Ah} y + h/6 (e^{Ah} B Q(t) + 4 e^{Ah/2} B Q(t+h/2) + B Q(t+h)),
/// exact for free vibration, Simpson's rule for the force: relative error about (ωh)⁴/2880, under 1e-6 up to 200 Hz at
/// 5 kHz. It starts in the steady state of the starting speed.
std::vector<std::vector<double>> sensor_movements(const RigTruth& rig, const ShaftTruth& shaft, const SpinTruth& spin,
                                                  const SpeedCurve& curve, std::size_t samples);

}  // namespace rigsim
