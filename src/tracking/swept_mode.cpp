#include "tracking/swept_mode.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/units/angle.hpp"

namespace counterspot {
namespace {

using Complex = std::complex<double>;

constexpr double step_per_width = 0.25;  // speed may change by this part of the half width ζω in a step
constexpr int most_steps = 16;

int steps_a_turn(const SweptSpeeds& sweep, double width_rad_s) {
  double largest = 0.0;
  for (std::size_t i = 1; i < sweep.size(); ++i) {
    if (!sweep.begins[i]) largest = std::max(largest, std::abs(sweep.speeds_rad_s[i] - sweep.speeds_rad_s[i - 1]));
  }
  return static_cast<int>(std::clamp(std::ceil(largest / (step_per_width * width_rad_s)), 1.0, double{most_steps}));
}

/// Neither is infinite here: without the care that the library's division takes of that it costs a third.
Complex quotient(Complex a, Complex b) {
  const double scale = 1.0 / std::norm(b);
  return {scale * (a.real() * b.real() + a.imag() * b.imag()), scale * (a.imag() * b.real() - a.real() * b.imag())};
}

/// (1 − e^{−z})/z.
Complex mean_of_decay(Complex z, Complex decayed) {
  return std::norm(z) < 1e-8 ? 1.0 - 0.5 * z : quotient(1.0 - decayed, z);
}

/// s^d/(s − s̄)-weighted sum of the two parts: displacement, velocity or acceleration of q = (P₁ − P₂)/(s₁ − s₂).
struct MotionOf {
  MotionOf(Motion motion, Complex pole) : adds_drive(motion == Motion::acceleration) {
    const Complex share = 1.0 / (pole - std::conj(pole));
    first = motion == Motion::displacement ? share : motion == Motion::velocity ? pole * share : pole * pole * share;
    second = std::conj(first);  // as 1/(s̄ − s) is the conjugate of 1/(s − s̄)
  }
  Complex operator()(Complex by_pole, Complex by_other, Complex drive) const {
    const Complex sum = first * by_pole + second * by_other;
    return adds_drive ? sum + drive : sum;
  }
  Complex first;
  Complex second;
  bool adds_drive;
};

Complex pole_of(double natural, double damping) {
  return natural * Complex(-damping, std::sqrt(1.0 - damping * damping));
}

}  // namespace

Eigen::VectorXcd swept_response(const SweptSpeeds& sweep, double natural, double damping, Motion motion,
                                std::span<const Eigen::Index> wanted) {
  const Complex pole = pole_of(natural, damping);
  const MotionOf motion_of(motion, pole);
  const int steps = steps_a_turn(sweep, damping * natural);
  const double scale = 1.0 / (natural * natural);
  Eigen::VectorXcd response(static_cast<Eigen::Index>(wanted.size()));
  Eigen::Index filled = 0;
  Complex rest = 0.0;
  Complex steady = 0.0;
  for (std::size_t i = 0; filled < response.size(); ++i) {
    const double speed = sweep.speeds_rad_s[i];
    if (sweep.begins[i]) {
      rest = 0.0;
      steady = quotient({speed * speed, -sweep.rates_rad_s2[i]}, Complex(0.0, speed) - pole);
    } else {
      const double step_s = (sweep.times_s[i] - sweep.times_s[i - 1]) / steps;
      const double from = sweep.speeds_rad_s[i - 1];
      const double rate_from = sweep.rates_rad_s2[i - 1];
      for (int k = 1; k <= steps; ++k) {
        const double part = static_cast<double>(k) / steps;
        const double w = from + (speed - from) * part;
        const double middle = w - 0.5 * (speed - from) / steps;
        const Complex u(w * w, -(rate_from + (sweep.rates_rad_s2[i] - rate_from) * part));
        const Complex next = quotient(u, Complex(0.0, w) - pole);
        const Complex z = (Complex(0.0, middle) - pole) * step_s;
        const Complex decayed = std::polar(std::exp(-z.real()), -z.imag());
        rest = decayed * rest - mean_of_decay(z, decayed) * (next - steady);
        steady = next;
      }
    }
    if (wanted[static_cast<std::size_t>(filled)] != static_cast<Eigen::Index>(i)) continue;
    const Complex drive(speed * speed, -sweep.rates_rad_s2[i]);
    // the rest turns against the shaft's angle, and its mean over a turn is less than its middle
    const double turned = pi * (natural - speed) / speed;
    const double mean = std::abs(turned) < 1e-3 ? 1.0 : std::sin(turned) / turned;
    const Complex second = quotient(drive, Complex(0.0, speed) - std::conj(pole));
    response(filled++) = scale * std::conj(motion_of(steady + mean * rest, second, drive));
  }
  return response;
}

std::complex<double> steady_response(double speed, double natural, double damping, Motion motion) {
  const Complex pole = pole_of(natural, damping);
  const double drive = speed * speed;
  return std::conj(MotionOf(motion, pole)(quotient(drive, Complex(0.0, speed) - pole),
                                          quotient(drive, Complex(0.0, speed) - std::conj(pole)), drive)) /
         (natural * natural);
}

}  // namespace counterspot
