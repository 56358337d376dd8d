#include "counterspot/solution.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/error.hpp"

using namespace counterspot;

namespace {

Rig two_sensor_rig() {
  Rig rig;
  rig.name = "bay 2";
  rig.sensors = {{"A", 1, {}, 1.0}, {"B", 2, {}, 1.0}};
  return rig;
}

Shaft two_plane_shaft() {
  Shaft shaft;
  shaft.id = "PS-1";
  shaft.limits_kg_m = {{"A", 40e-6}, {"B", 40e-6}};
  shaft.planes = {{"A", 0.0, 0.04}, {"B", 1.0, 0.04}};
  return shaft;
}

/// A rig with one vibration unit a kg·m at each end and no cross-talk; readings with uncertainty u.
std::vector<SpinReading> simple_spins(double u, double speed_rad_s) {
  auto spin = [&](std::vector<FittedWeight> fitted, Phasor a, Phasor b) {
    Eigen::Matrix2d covariance = u * u * Eigen::Matrix2d::Identity();
    return SpinReading{"spin", std::move(fitted), {a, b}, {covariance, covariance}, speed_rad_s};
  };
  Phasor a(3e-4, 1e-4), b(-2e-4, 4e-4);
  FittedWeight at_a{0, 0.01, 0.04, 0.0}, at_b{1, 0.01, 0.04, 0.0};
  return {spin({at_a}, a + 4e-4, b), spin({at_b}, a, b + 4e-4), spin({}, a, b)};
}

const std::vector<Motion> accelerations(2, Motion::acceleration);

}  // namespace

TEST_CASE("the predicted residual is what reading and setting errors leave, root-mean-square") {
  // Pencil: correction |U| = 316.2 g·mm at A; 1 % and 1 deg (0.017453) leave 316.2·sqrt(0.01² + 0.017453²) = 6.361 g·mm
  // if the reading were exact; the reading's own share is added in squares.
  Solution solution = solve_readings(two_sensor_rig(), two_plane_shaft(), simple_spins(1e-12, 180.0), accelerations);
  double left_by_setting = 316.228e-6 * std::hypot(0.01, radians(1.0));
  double left_by_trials = std::sqrt(solution.planes[0].residual_covariance.trace());
  CHECK(left_by_trials ==
        Approx(left_by_setting).epsilon(1e-3));  // the trial weight's own setting error, the same again
  CHECK(solution.planes[0].predicted_residual_kg_m ==
        Approx(std::hypot(left_by_setting, left_by_trials)).epsilon(1e-6));
}

TEST_CASE("the correction is the residual turned by half a turn, at the plane's radius") {
  Solution solution = solve_readings(two_sensor_rig(), two_plane_shaft(), simple_spins(1e-7, 180.0), accelerations);
  const PlaneSolution& a = solution.planes[0];
  CHECK(a.correction.mass_kg == Approx(316.228e-6 / 0.04).epsilon(1e-5));
  CHECK(degrees(a.correction.angle_rad) == Approx(direction_deg(a.residual_kg_m) + 180.0));
  CHECK_FALSE(a.correction.arc.has_value());  // no tube, no tape
  CHECK(solution.judgement.verdict == Verdict::outside);
}

TEST_CASE("spins at speeds further apart than allowed are refused, and the sentence gives the speeds") {
  auto spins = simple_spins(1e-7, rad_per_s(1500.0));
  spins[0].speed_rad_s = rad_per_s(1520.0);
  try {
    solve_readings(two_sensor_rig(), two_plane_shaft(), spins, accelerations);
    FAIL("spins 1.3 % apart were taken");
  } catch (const Error& error) {
    CHECK(std::string(error.what()) ==
          "the spins were made at 1500 to 1520 rpm, 1.3 % apart, and coefficients hold at one speed only");
  }
  SolveOptions options;
  options.speed_tolerance = 0.02;
  Solution solution = solve_readings(two_sensor_rig(), two_plane_shaft(), spins, accelerations, options);
  CHECK(solution.warnings[0].code == WarningCode::speeds_differ);
  CHECK(rpm(*solution.speed_rad_s) == Approx(1500.0));  // of the last spin
}

TEST_CASE("a spin brought to another speed keeps its phase, grows with the stated power and becomes less sure") {
  SpinReading reading = simple_spins(1e-7, 100.0)[2];
  SpinReading brought = bring_to_speed(reading, {Motion::acceleration, Motion::displacement}, 101.0);
  CHECK(std::abs(brought.vectors[0]) == Approx(std::abs(reading.vectors[0]) * std::pow(1.01, 3)));
  CHECK(std::abs(brought.vectors[1]) == Approx(std::abs(reading.vectors[1]) * 1.01));
  CHECK(std::arg(brought.vectors[0]) == Approx(std::arg(reading.vectors[0])));
  // Along the vector the exponent's ± 1 gives a standard uncertainty of |Z|·ln(1.01).
  Eigen::Vector2d along(brought.vectors[0].real(), brought.vectors[0].imag());
  along.normalize();
  double u = std::sqrt(along.dot(brought.covariances[0] * along));
  CHECK(u == Approx(std::hypot(std::abs(brought.vectors[0]) * std::log(1.01), 1e-7 * std::pow(1.01, 3))).epsilon(1e-6));
}

TEST_CASE("a slope that the spin showed is used instead of the stated power") {
  SpinReading reading = simple_spins(1e-7, 100.0)[2];
  const Phasor slope = Phasor(-0.05, 0.1) * reading.vectors[0];  // 11 % and 6 deg a rad/s
  const double u = 0.01 * std::abs(reading.vectors[0]);
  reading.slopes = {SpeedSlope{slope, u, true}, std::nullopt};
  SpinReading brought = bring_to_speed(reading, {Motion::acceleration, Motion::displacement}, 100.5);
  CHECK(std::abs(brought.vectors[0] - (reading.vectors[0] + 0.5 * slope)) < 1e-12);
  CHECK(std::abs(brought.vectors[1]) == Approx(std::abs(reading.vectors[1]) * 1.005));  // no slope: the power
  // By hand: (0.5·u)² for the slope, and for the bend half of (|slope|²/|Z|·0.5²)², in either part
  const double bend = std::norm(slope) / std::abs(reading.vectors[0]) * 0.25;
  const double added = 0.25 * u * u + 0.5 * bend * bend;
  CHECK((brought.covariances[0] - reading.covariances[0])(0, 0) == Approx(added));
  CHECK((brought.covariances[0] - reading.covariances[0])(1, 1) == Approx(added));
}

TEST_CASE("a set that cannot be solved is refused with a remedy of its own") {
  auto spins = simple_spins(1e-7, 180.0);
  spins.resize(1);
  try {
    solve_readings(two_sensor_rig(), two_plane_shaft(), spins, accelerations);
    FAIL("one spin was solved");
  } catch (const Error& error) {
    CHECK(error.code() == "too_few_spins");
    CHECK(error.remedy() == "make a spin with a trial weight there");
  }
}
