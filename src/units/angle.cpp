#include "counterspot/units/angle.hpp"

#include <cmath>

namespace counterspot {

double wrap_positive(double angle_rad) {
  double wrapped = std::fmod(angle_rad, turn_rad);
  if (wrapped < 0.0) wrapped += turn_rad;
  // A tiny negative angle rounds up to a whole turn, and −0 must not print as "-0".
  return wrapped >= turn_rad || wrapped == 0.0 ? 0.0 : wrapped;
}

double wrap_signed(double angle_rad) {
  double wrapped = wrap_positive(angle_rad);
  return wrapped > pi ? wrapped - turn_rad : wrapped;
}

double direction_deg(const Phasor& z) {
  if (z == Phasor(0.0, 0.0)) return 0.0;
  double direction = degrees(wrap_positive(std::arg(z)));
  return direction >= 360.0 ? 0.0 : direction;
}

Phasor phasor_at(double magnitude, double direction_rad) {
  return std::polar(magnitude, direction_rad);
}

}  // namespace counterspot
