#include "tracking/swept_mode.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/units/angle.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr Complex imaginary(0.0, 1.0);
constexpr double step_per_width = 0.25;  // speed may change by this part of the half width ζω in a step
constexpr int most_steps = 16;

int steps_a_turn(const SweptSpeeds& sweep, double width_rad_s) {
  double largest = 0.0;
  for (std::size_t i = 1; i < sweep.size(); ++i) {
    if (!sweep.begins[i]) largest = std::max(largest, std::abs(sweep.speeds_rad_s[i] - sweep.speeds_rad_s[i - 1]));
  }
  return static_cast<int>(std::clamp(std::ceil(largest / (step_per_width * width_rad_s)), 1.0, double{most_steps}));
}

/// (1 − e^{−z})/z.
Complex mean_of_decay(Complex z, Complex decayed) {
  return std::abs(z) < 1e-4 ? 1.0 - 0.5 * z : (1.0 - decayed) / z;
}

/// s^d/(s − s̄)-weighted sum of the two parts: displacement, velocity or acceleration of q = (P₁ − P₂)/(s₁ − s₂).
Complex motion_of(Motion motion, Complex pole, Complex first, Complex second, Complex drive) {
  const Complex other = std::conj(pole);
  switch (motion) {
    case Motion::displacement: return (first - second) / (pole - other);
    case Motion::velocity: return (pole * first - other * second) / (pole - other);
    case Motion::acceleration: return (pole * pole * first - other * other * second) / (pole - other) + drive;
  }
  return {};
}

Complex pole_of(double natural, double damping) {
  return natural * Complex(-damping, std::sqrt(1.0 - damping * damping));
}

}  // namespace

Eigen::VectorXcd swept_response(const SweptSpeeds& sweep, double natural, double damping, Motion motion) {
  const Complex pole = pole_of(natural, damping);
  const int steps = steps_a_turn(sweep, damping * natural);
  const double scale = 1.0 / (natural * natural);
  Eigen::VectorXcd response(static_cast<Eigen::Index>(sweep.size()));
  Complex rest = 0.0;
  Complex steady = 0.0;
  for (std::size_t i = 0; i < sweep.size(); ++i) {
    const double speed = sweep.speeds_rad_s[i];
    if (sweep.begins[i]) {
      rest = 0.0;
      steady = Complex(speed * speed, -sweep.rates_rad_s2[i]) / (imaginary * speed - pole);
    } else {
      const double step_s = (sweep.times_s[i] - sweep.times_s[i - 1]) / steps;
      const double from = sweep.speeds_rad_s[i - 1];
      const double rate_from = sweep.rates_rad_s2[i - 1];
      for (int k = 1; k <= steps; ++k) {
        const double part = static_cast<double>(k) / steps;
        const double w = from + (speed - from) * part;
        const double middle = w - 0.5 * (speed - from) / steps;
        const Complex u(w * w, -(rate_from + (sweep.rates_rad_s2[i] - rate_from) * part));
        const Complex next = u / (imaginary * w - pole);
        const Complex z = (imaginary * middle - pole) * step_s;
        const Complex decayed = std::exp(-z);
        rest = decayed * rest - mean_of_decay(z, decayed) * (next - steady);
        steady = next;
      }
    }
    const Complex drive(speed * speed, -sweep.rates_rad_s2[i]);
    // the rest turns against the shaft's angle, and its mean over a turn is less than its middle
    const double turned = pi * (natural - speed) / speed;
    const double mean = std::abs(turned) < 1e-3 ? 1.0 : std::sin(turned) / turned;
    const Complex second = drive / (imaginary * speed - std::conj(pole));
    response(static_cast<Eigen::Index>(i)) =
        scale * std::conj(motion_of(motion, pole, steady + mean * rest, second, drive));
  }
  return response;
}

std::complex<double> steady_response(double speed, double natural, double damping, Motion motion) {
  const Complex pole = pole_of(natural, damping);
  const double drive = speed * speed;
  return std::conj(motion_of(motion, pole, drive / (imaginary * speed - pole),
                             drive / (imaginary * speed - std::conj(pole)), drive)) /
         (natural * natural);
}

}  // namespace counterspot
