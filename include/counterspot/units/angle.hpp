#pragma once

#include <complex>
#include <numbers>

namespace counterspot {

/// The one place for angles. Shaft angle β: of a spot on the shaft, from the mark, against the direction of rotation.
/// Phase lag φ: x(t) = A cos(θ(t) − φ), θ = 0 at the tach edge. As complex numbers Z = A e^{+jφ} and W = w e^{+jβ},
/// so that Z = α W holds without a change of sign.
using Phasor = std::complex<double>;

inline constexpr double pi = std::numbers::pi;
inline constexpr double turn_rad = 2.0 * pi;

constexpr double radians(double angle_deg) {
  return angle_deg * (pi / 180.0);
}
constexpr double degrees(double angle_rad) {
  return angle_rad * (180.0 / pi);
}
constexpr double rad_per_s(double speed_rpm) {
  return speed_rpm * (turn_rad / 60.0);
}
constexpr double rpm(double speed_rad_s) {
  return speed_rad_s * (60.0 / turn_rad);
}

/// The same direction in [0, 2π). Never returns 2π itself, nor −0. Any finite input.
double wrap_positive(double angle_rad);

/// The same direction in (−π, π].
double wrap_signed(double angle_rad);

/// Direction of a phasor in degrees, [0, 360). 0 for a zero phasor.
double direction_deg(const Phasor& z);

/// A phasor from magnitude (≥ 0, any unit) and direction.
Phasor phasor_at(double magnitude, double direction_rad);

}  // namespace counterspot
