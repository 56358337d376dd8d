#pragma once

#include <complex>
#include <vector>

#include "counterspot/units/units.hpp"

namespace counterspot {

/// Order 1 of a sensor (phase lag) at a speed that is dwelt at.
struct SteadyPoint {
  double speed_rad_s = 0.0;
  std::complex<double> vector;
};

struct Circle {
  double speed_rad_s = 0.0;
  double damping_ratio = 0.0;
};

/// Velocity over Ω² is a circle through the origin for viscous damping; diametrically opposite is ω_n, and the tangent
/// of the angle seen from the origin is (ω_n² − Ω²)/(2ζω_nΩ), a straight line in Ω² after multiplying by Ω (Ewins,
/// Modal Testing, 2000, 4.3).
Circle circle_fit(const std::vector<SteadyPoint>& points, Motion motion);

}  // namespace counterspot
