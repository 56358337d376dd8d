// Several speeds in one regression, planes that are left out, limits on weights, shafts turned against their adapters.
#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/influence/influence.hpp"

using namespace counterspot;

namespace {

using Names = std::vector<std::string>;

const Names abc = {"A", "B", "C"};
constexpr double exact = 1e-9;  // relative: readings that fit the model

FittedWeight weight(int plane, double unbalance_kg_m, double angle_rad) {
  return {plane, unbalance_kg_m, 1.0, angle_rad};
}

/// Spins at one speed of a rig with these coefficients.
struct Speed {
  Eigen::MatrixXcd alpha;
  double speed_rad_s = 100.0;

  SpinReading spin(const std::vector<FittedWeight>& fitted, Eigen::VectorXcd total, double u = 1e-3,
                   const Phasor& adapters = 0.0) const {
    for (const FittedWeight& piece : fitted) total(piece.plane) += piece.unbalance_kg_m();
    total(0) += adapters;
    const Eigen::VectorXcd z = alpha * total;
    SpinReading reading{"spin", fitted, {z.begin(), z.end()}, {}, speed_rad_s};
    reading.covariances.assign(reading.vectors.size(), u * u * Eigen::Matrix2d::Identity());
    return reading;
  }
  std::vector<SpinReading> with_trials(const Eigen::VectorXcd& unbalance) const {
    std::vector<SpinReading> spins = {spin({}, unbalance)};
    for (int p = 0; p < alpha.cols(); ++p) spins.push_back(spin({weight(p, 8.0, 0.4 * p)}, unbalance));
    return spins;
  }
};

Eigen::MatrixXcd drawn(Eigen::Index rows, Eigen::Index columns, unsigned seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  return Eigen::MatrixXcd(rows, columns).unaryExpr([&](auto) { return Phasor(normal(random), normal(random)); });
}

}  // namespace

TEST_CASE("two sensors at two speeds tell three planes apart, and the present state counts at both") {
  const Speed slow{drawn(2, 3, 1), 100.0};
  const Speed fast{drawn(2, 3, 2), 200.0};
  const Eigen::VectorXcd unbalance = 5.0 * drawn(3, 1, 3);
  std::vector<SpinReading> last = fast.with_trials(unbalance);
  last.push_back(fast.spin({weight(0, 3.0, 1.0), weight(2, 2.0, 2.0)}, unbalance));
  const InfluenceSummary answer = solve_speeds({slow.with_trials(unbalance), last}, abc, {"1", "2"});
  REQUIRE(answer.usable());
  REQUIRE(answer.speeds.size() == 2);
  for (int p = 0; p < 3; ++p) {
    Phasor present = unbalance(p);
    for (const FittedWeight& piece : last.back().fitted)
      if (piece.plane == p) present += piece.unbalance_kg_m();
    CHECK(std::abs(answer.planes[p].as_found_kg_m - unbalance(p)) < exact * unbalance.norm());
    CHECK(std::abs(answer.planes[p].residual_kg_m - present) < exact * unbalance.norm());
  }
  for (const SpeedShare& share : answer.speeds) {
    for (const Phasor& z : share.expected) CHECK(std::abs(z) < exact * slow.alpha.norm() * unbalance.norm());
  }
}

TEST_CASE("the stated covariance over two speeds is the scatter that the stated errors make", "[long]") {
  // GUM 5.1 against 3 000 draws, which fix a standard deviation to 1.3 %: 7 % is five of that.
  const Speed slow{drawn(2, 2, 11), 100.0};
  const Speed fast{drawn(2, 2, 12), 200.0};
  const Eigen::VectorXcd unbalance = 5.0 * drawn(2, 1, 13);
  InfluenceOptions options;
  options.setting = {0.02, 0.02};
  std::mt19937_64 random(14);
  std::normal_distribution<double> normal;
  constexpr int draws = 3000;
  Eigen::Matrix4d scatter = Eigen::Matrix4d::Zero();
  Eigen::Matrix4d stated = Eigen::Matrix4d::Zero();
  for (int draw = 0; draw < draws; ++draw) {
    std::vector<std::vector<SpinReading>> groups(2);
    for (int p = -1; p < 2; ++p) {
      std::vector<FittedWeight> fitted;
      Eigen::VectorXcd real = unbalance;
      if (p >= 0) {
        fitted = {weight(p, 8.0, 0.4 * p)};
        real(p) += fitted[0].unbalance_kg_m() * Phasor(0.02 * normal(random), 0.02 * normal(random));
      }
      groups[0].push_back(slow.spin(fitted, real, 0.02));
      groups[1].push_back(fast.spin(fitted, real, 0.02));
    }
    groups[1].push_back(fast.spin({}, unbalance, 0.02));
    for (auto& group : groups)
      for (auto& spin : group)
        for (Phasor& z : spin.vectors) z += 0.02 * Phasor(normal(random), normal(random));
    const InfluenceSummary answer = solve_speeds(groups, {"A", "B"}, {"1", "2"}, options);
    REQUIRE(answer.usable());
    stated += answer.residual_covariance / draws;
    Eigen::Vector4d error;
    for (int p = 0; p < 2; ++p) {
      const Phasor miss = answer.planes[p].residual_kg_m - unbalance(p);
      error.segment<2>(2 * p) << miss.real(), miss.imag();
    }
    scatter += error * error.transpose() / draws;
  }
  for (int i = 0; i < 4; ++i) CHECK(std::sqrt(scatter(i, i)) == Approx(std::sqrt(stated(i, i))).epsilon(0.07));
}

TEST_CASE("a third plane that the others can stand in for is left out, and the reason is given") {
  Speed rig{drawn(3, 3, 5)};
  rig.alpha.col(1) = 0.5 * rig.alpha.col(0) + 0.5 * rig.alpha.col(2);  // the middle of a rigid shaft
  const Eigen::VectorXcd unbalance = 5.0 * drawn(3, 1, 6);
  const InfluenceSummary answer = solve_influence(rig.with_trials(unbalance), abc, {"1", "2", "3"});
  REQUIRE(answer.usable());
  int left_out = 0;
  for (const PlaneUnbalance& plane : answer.planes) {
    if (plane.left_out.empty()) continue;
    ++left_out;
    CHECK(plane.correction_kg_m == 0.0);
    CHECK(plane.left_out.find("could not be done at the other planes") != std::string::npos);
  }
  CHECK(left_out == 1);
  REQUIRE_FALSE(answer.warnings.empty());
  CHECK(answer.warnings.back().code == WarningCode::plane_left_out);
  for (const Phasor& z : answer.speeds[0].expected) CHECK(std::abs(z) < 1e-6 * rig.alpha.norm() * unbalance.norm());
}

TEST_CASE("two sensors at one speed use two of three planes") {
  const Speed rig{drawn(2, 3, 7)};
  const InfluenceSummary answer = solve_influence(rig.with_trials(5.0 * drawn(3, 1, 8)), abc, {"1", "2"});
  REQUIRE(answer.usable());
  CHECK(answer.warnings.back().message.find("2 readings tell 2 planes apart at most") != std::string::npos);
}

TEST_CASE("a correction stays within the weights allowed, and the worst is never worse than by least squares") {
  const Speed rig{drawn(4, 2, 9)};
  const auto spins = rig.with_trials(5.0 * drawn(2, 1, 10));
  InfluenceOptions options;
  options.most_kg_m = {2.0, 1.0};
  auto worst = [](const InfluenceSummary& answer) {
    double most = 0.0;
    for (const Phasor& z : answer.speeds[0].expected) most = std::max(most, std::abs(z));
    return most;
  };
  const InfluenceSummary squares = solve_influence(spins, {"A", "B"}, {"1", "2", "3", "4"}, options);
  options.least = Least::worst;
  const InfluenceSummary least_worst = solve_influence(spins, {"A", "B"}, {"1", "2", "3", "4"}, options);
  for (const InfluenceSummary* answer : {&squares, &least_worst}) {
    CHECK(std::abs(answer->planes[0].correction_kg_m) <= 2.0 * (1.0 + exact));
    CHECK(std::abs(answer->planes[1].correction_kg_m) <= 1.0 * (1.0 + exact));
  }
  CHECK(worst(least_worst) < worst(squares));
}

TEST_CASE("spins with the shaft turned separate the adapters' unbalance from the shaft's, whatever the angles") {
  for (double turned_rad : {pi, 2.0, -0.7}) {
    const Speed rig{drawn(2, 2, 20)};
    const Eigen::VectorXcd unbalance = 5.0 * drawn(2, 1, 21);
    const Phasor adapters = std::polar(9.0, 2.5);  // at the first plane, from the adapters' mark
    auto spin = [&](const std::vector<FittedWeight>& fitted, double turned) {
      SpinReading reading = rig.spin(fitted, unbalance, 1e-3, adapters * std::polar(1.0, -turned));
      reading.turned_rad = turned;
      return reading;
    };
    const std::vector<SpinReading> spins = {spin({weight(0, 8.0, 0.3)}, 0.0), spin({weight(1, 8.0, 1.3)}, 0.0),
                                            spin({}, turned_rad), spin({}, 0.0)};
    const InfluenceSummary answer = solve_influence(spins, {"A", "B"}, {"1", "2"});
    REQUIRE(answer.usable());
    REQUIRE(answer.adapters);
    CHECK(std::abs(answer.adapters->unbalance_kg_m[0] - adapters) < 1e-8);
    CHECK(std::abs(answer.adapters->unbalance_kg_m[1]) < 1e-8);
    for (int p = 0; p < 2; ++p) CHECK(std::abs(answer.planes[p].residual_kg_m - unbalance(p)) < 1e-8);
    InfluenceOptions options;  // the next time, without turning: what is known is taken away
    options.adapters = answer.adapters;
    const std::vector<SpinReading> next = {spins[0], spins[1], spins[3]};
    const InfluenceSummary again = solve_influence(next, {"A", "B"}, {"1", "2"}, options);
    REQUIRE(again.usable());
    CHECK_FALSE(again.adapters);
    for (int p = 0; p < 2; ++p) CHECK(std::abs(again.planes[p].residual_kg_m - unbalance(p)) < 1e-8);
    CHECK(again.residual_covariance(0, 0) > answer.residual_covariance(0, 0) * 0.5);
  }
}
