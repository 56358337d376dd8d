#include "counterspot/model/joints.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"

using namespace counterspot;

namespace {

// Exact kinematics of a cardan joint (any textbook on mechanisms): tan θ_out = tan θ_in / cos β, continuous in θ.
double through_joint(double angle, double beta) {
  return std::atan2(std::sin(angle), std::cos(angle) * std::cos(beta)) +
         turn_rad * std::round((angle - std::atan2(std::sin(angle), std::cos(angle))) / turn_rad);
}

// Second-order part of (θ_out − θ_in) behind both joints, rad peak, by Fourier sum. The driven yoke of the first joint
// stands a quarter turn from the driving one, and so does the next joint's.
double exact_ripple(double beta_a, double beta_b, double phase) {
  std::complex<double> sum = 0.0;
  const int n = 3600;
  for (int i = 0; i < n; ++i) {
    const double in = turn_rad * i / n;
    const double shaft = through_joint(in, beta_a);
    const double out = through_joint(shaft + pi / 2 - phase, beta_b) - pi / 2 + phase;
    sum += (out - in) * std::polar(1.0, -2.0 * in);
  }
  return 2.0 * std::abs(sum) / n;
}

}  // namespace

TEST_CASE("two joints disturb as the exact kinematics say, up to 15 deg") {
  for (double a : {3.0, 8.0, 15.0})
    for (double b : {0.0, 4.0, 10.0})
      for (double phase : {0.0, 20.0, 45.0, 90.0}) {
        const Joints joints{radians(a), radians(b), radians(phase)};
        const double speed = joint_words(joints).speed_ripple_fraction;
        // An angle error of amplitude ε at twice a turn is a speed ripple of 2ε.
        const double exact = 2.0 * exact_ripple(radians(a), radians(b), radians(phase));
        CHECK(speed == Approx(exact).epsilon(0.02).margin(2e-4));  // 2 % is the stated accuracy
      }
}

TEST_CASE("equal angles and yokes in line cancel; a quarter turn doubles") {
  const Joints good{radians(6.0), radians(6.0), 0.0};
  CHECK(joint_words(good).equivalent_angle_rad < 1e-9);
  CHECK(joint_words(good).yokes_in_line);
  const Joints bad{radians(6.0), radians(6.0), radians(90.0)};
  CHECK(joint_words(bad).equivalent_angle_rad == Approx(std::sqrt(2.0) * radians(6.0)));
  CHECK_FALSE(joint_words(bad).yokes_in_line);
  CHECK_THROWS_AS(joint_words({radians(60.0), 0.0, 0.0}), Error);
}
