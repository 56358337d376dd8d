#pragma once

#include <Eigen/Core>
#include <complex>
#include <span>
#include <vector>

#include "counterspot/units/units.hpp"

namespace counterspot {

/// The speeds that a sweep ran through, and when; ascending in time.
struct SweptSpeeds {
  std::vector<double> times_s;
  std::vector<double> speeds_rad_s;
  std::vector<double> rates_rad_s2;  ///< Ω'
  std::vector<bool> begins;          ///< the first, or behind a gap
  std::size_t size() const { return times_s.size(); }
};

/// Order 1 (phase lag) of the motion of a mode of unit strength that an unbalance drives, divided by ω_n². With poles
/// s = −ζω ± jω√(1−ζ²), each part of the response obeys P' = (s − jΩ)P + u, u = Ω² − jΩ'. It is split into the steady
/// response S = u/(jΩ − s) and the rest, which is driven by −S' alone: exact where the speed stands, and of second
/// order in the step elsewhere. The rest of the second pole, far from resonance at all speeds, is neglected.
/// @param wanted which of the sweep's speeds, ascending.
Eigen::VectorXcd swept_response(const SweptSpeeds& sweep, double natural_rad_s, double damping_ratio, Motion motion,
                                std::span<const Eigen::Index> wanted);

/// The same at one speed as if the sweep dwelt there.
std::complex<double> steady_response(double speed_rad_s, double natural_rad_s, double damping_ratio, Motion motion);

}  // namespace counterspot
