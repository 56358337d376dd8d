// Unbalance without phase. The check values are the construction of circles in one plane, done in NumPy: with three
// trials of 12 g·m at 0, 120 and 240 deg, Σ A_i² = 3 A_0² + 3 a² T², and A_i² − A_0² − a² T² = 2 a² Re(U T_i*); with
// two trials SciPy's fsolve finds where the circles meet, from 200 starts.
#include "counterspot/influence/amplitude_only.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace counterspot;

namespace {

AmplitudeReading reading(double angle_deg, double amplitude) {
  AmplitudeReading spin{"spin", {}, {amplitude}, {0.005}};
  if (angle_deg >= 0.0) spin.fitted = {{0, 12.0, 1.0, radians(angle_deg)}};
  return spin;
}

const std::vector<AmplitudeReading> circles = {reading(-1, 8.0), reading(0, 5.51), reading(120, 17.19),
                                               reading(240, 11.95)};
constexpr double printed_digits = 0.02;  // amplitudes were given to two places

}  // namespace

TEST_CASE("three trial positions in one plane give one answer, the one of the circles") {
  const AmplitudeSummary answer = solve_amplitudes(circles, 1);
  REQUIRE(answer.usable);
  REQUIRE(answer.candidates.size() == 1);
  const AmplitudeCandidate& only = answer.candidates[0];
  CHECK(std::abs(only.as_found_kg_m[0] - std::polar(9.9977, radians(144.9909))) < printed_digits);
  CHECK(std::abs(only.residual_kg_m[0] - only.as_found_kg_m[0] - std::polar(12.0, radians(240.0))) < 1e-9);
  CHECK(std::sqrt(only.covariance.trace()) < 0.5);
  CHECK(std::sqrt(only.covariance.trace()) > 0.05);  // 1 % and 1 deg of setting
}

TEST_CASE("a sensor's own phase is no unknown where no phase is read") {
  // Four amplitudes; unknown are the unbalance's two parts and how much the sensor shows of it.
  CHECK(solve_amplitudes(circles, 1).degrees_of_freedom == 1);
  std::vector<AmplitudeReading> two_sensors = circles;
  for (AmplitudeReading& each : two_sensors) {
    each.amplitudes.push_back(0.5 * each.amplitudes[0]);
    each.u_amplitudes.push_back(each.u_amplitudes[0]);
  }
  CHECK(solve_amplitudes(two_sensors, 1).degrees_of_freedom == 8 - 4);
}

TEST_CASE("two trial positions leave two answers, and both are shown") {
  std::vector<AmplitudeReading> two(circles.begin(), circles.begin() + 3);
  const AmplitudeSummary answer = solve_amplitudes(two, 1);
  REQUIRE(answer.usable);
  CHECK(answer.candidates.size() == 2);
  for (const Phasor& wanted : {std::polar(9.996, radians(145.0)), std::polar(7.371, radians(-167.27))}) {
    CHECK(std::any_of(answer.candidates.begin(), answer.candidates.end(), [&](const AmplitudeCandidate& candidate) {
      return std::abs(candidate.as_found_kg_m[0] - wanted) < printed_digits;
    }));
  }
}

TEST_CASE("too few spins without phase are refused, and it is said how many are needed") {
  const AmplitudeSummary answer = solve_amplitudes({circles[0], circles[1]}, 1);
  CHECK_FALSE(answer.usable);
  CHECK(answer.refusal.remedy.find("make at least 4 spins") != std::string::npos);
}
