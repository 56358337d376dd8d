#include "counterspot/solve/solution.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/job/next_step.hpp"
#include "counterspot/units/error.hpp"
#include "says.hpp"

using namespace counterspot;
using counterspot::test::says;

namespace {

Rig two_sensor_rig() {
  Rig rig;
  rig.name = "bay 2";
  rig.sensors = {{"A", 1, {}, 1.0}, {"B", 2, {}, 1.0}};
  rig.setting.repeat_fraction = 0.0;  // for the pencil: every spin comes back to where it was
  return rig;
}

Shaft two_plane_shaft() {
  Shaft shaft;
  shaft.id = "PS-1";
  shaft.limits_kg_m = {{"A", 40e-6}, {"B", 40e-6}};
  shaft.planes = {{"A", 0.0, 0.04}, {"B", 1.0, 0.04}};
  return shaft;
}

/// A rig with one vibration unit per kg·m at each end and no cross-talk; readings with uncertainty u.
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

namespace {

/// A rig on which the planes can hardly be told apart: columns (1, a) and (a, 1), condition number (1 + a)/(1 − a)
/// = 16.
std::vector<SpinReading> three_spins_that_scatter(double scatter, unsigned seed) {
  constexpr double a = 15.0 / 17.0;
  constexpr double noise = 1e-3;  // of a reading: the recording alone
  std::mt19937 generator(seed);
  std::normal_distribution<double> normal;
  const std::vector<Phasor> unbalance = {Phasor(3e-4, 1e-4), Phasor(-2e-4, 2e-4)};
  std::vector<SpinReading> spins;
  for (const std::vector<FittedWeight>& fitted :
       {std::vector<FittedWeight>{{0, 0.01, 0.04, 0.0}}, {{1, 0.01, 0.04, 1.0}}, {}}) {
    auto on = unbalance;
    for (const FittedWeight& piece : fitted) on[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m();
    SpinReading spin{"spin", fitted, {on[0] + a * on[1], a * on[0] + on[1]}, {}, 180.0};
    for (Phasor& z : spin.vectors) {
      z *= 1.0 + scatter * Phasor(normal(generator), normal(generator));
      const double u = noise * std::abs(z);
      z += u * Phasor(normal(generator), normal(generator));
      spin.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
    }
    spins.push_back(spin);
  }
  return spins;
}

/// How many of 400 residuals have the truth in their 95 % ellipse (9.488: chi-squared, four degrees of freedom).
int truth_inside(double assumed) {
  Rig rig = two_sensor_rig();
  rig.setting = {1e-6, 1e-6, 0.0, assumed};
  int inside = 0;
  for (unsigned seed = 0; seed < 400; ++seed) {
    const Solution solution =
        solve_readings(rig, two_plane_shaft(), three_spins_that_scatter(0.01, seed), accelerations);
    Eigen::Vector4d miss;
    miss << solution.planes[0].residual_kg_m.real() - 3e-4, solution.planes[0].residual_kg_m.imag() - 1e-4,
        solution.planes[1].residual_kg_m.real() + 2e-4, solution.planes[1].residual_kg_m.imag() - 2e-4;
    inside += miss.dot(solution.influence.residual_covariance.ldlt().solve(miss)) <= 9.488 ? 1 : 0;
  }
  return inside;
}

}  // namespace

TEST_CASE("three spins that scatter by 1 % hold the truth only if that is counted, also at condition number 16") {
  CHECK(truth_inside(0.0) < 0.7 * 400);
  // ± 3 standard deviations of a count of 400; first-order propagation of errors of up to 16 % costs a little more
  CHECK(truth_inside(0.01) >= 0.90 * 400);
  CHECK(truth_inside(0.01) <= 0.985 * 400);
}

TEST_CASE(
    "a scatter that nobody measured is said where the uncertainty rests on it, and so are alike planes from 10 on") {
  Rig rig = two_sensor_rig();
  rig.setting = {1e-6, 1e-6, 0.0, 0.01};
  const auto spins = three_spins_that_scatter(0.01, 1);
  const Solution assumed = solve_readings(rig, two_plane_shaft(), spins, accelerations);
  CHECK(says(assumed, WarningCode::scatter_assumed));
  CHECK(says(assumed, WarningCode::ill_conditioned));
  SolveOptions known;
  known.rig.repeat_fraction = 0.01;
  CHECK_FALSE(says(solve_readings(rig, two_plane_shaft(), spins, accelerations, known), WarningCode::scatter_assumed));
  Rig careless = two_sensor_rig();  // weights set to 1 % and 1 deg outweigh it
  careless.setting.repeat_fraction = 0.001;
  CHECK_FALSE(says(solve_readings(careless, two_plane_shaft(), spins, accelerations), WarningCode::scatter_assumed));
}

TEST_CASE("a converter whose step is larger than what the limit reads is named with the plane") {
  auto spins = simple_spins(1e-7, 180.0);
  for (SpinReading& spin : spins) spin.levels = {{{}, 30e-6}, {{}, 50e-6}};  // the limit reads 40e-6 at each
  const Solution solution = solve_readings(two_sensor_rig(), two_plane_shaft(), spins, accelerations);
  const auto said = std::find_if(solution.warnings.begin(), solution.warnings.end(),
                                 [](const Warning& each) { return each.code == WarningCode::coarse_steps; });
  REQUIRE(said != solution.warnings.end());
  CHECK(said->message == "at sensor B the limit of plane B reads 0.8 steps of the converter");
}

// Pencil: 100 g·mm as it was spun and 160 without the trial weight; the plane may carry 30 and 90 more. 70 of 100 are
// left either way, of a limit of 100.
TEST_CASE("what a limited correction is expected to leave is told for the bare shaft by the bare shaft's own") {
  Solution solution;
  const double gmm = kg_m_per_g_mm;
  solution.influence.planes = {{100.0 * gmm, {}, -30.0 * gmm, {}, 160.0 * gmm, -90.0 * gmm}};
  solution.influence.residual_covariance = Eigen::Matrix2d::Zero();
  solution.influence.bare_covariance_change = Eigen::Matrix2d::Zero();
  Shaft shaft;
  shaft.planes = {{"A", 0.1, 0.04}};
  shaft.limits_kg_m = {{"A", 100.0 * gmm}};
  solution.limits = limits_of(shaft);
  Rig exact;
  exact.setting = {0.0, 0.0, 0.0};
  CHECK(predicted_over_limit(solution, exact, shaft, Base::as_spun) == Approx(0.7));
  CHECK(predicted_over_limit(solution, exact, shaft, Base::bare) == Approx(0.7));
  solution.influence.planes[0].bare_correction_kg_m = -150.0 * gmm;  // more room, and less is left
  CHECK(predicted_over_limit(solution, exact, shaft, Base::bare) == Approx(0.1));
}
