// What earlier shafts taught of the coefficients, as rows of the same regression; and what pencil and paper say of the
// shares of the uncertainty.
#include <Eigen/Dense>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/influence/influence.hpp"
#include "says.hpp"

using namespace counterspot;
using counterspot::test::says;

namespace {

using Names = std::vector<std::string>;

constexpr double exact = 1e-9;  // relative: linear algebra on well-conditioned numbers

FittedWeight weight(int plane, double unbalance_kg_m, double angle_rad) {
  return {plane, unbalance_kg_m, 1.0, angle_rad};
}

SpinReading spin(const std::vector<FittedWeight>& fitted, const std::vector<Phasor>& vectors, double u) {
  SpinReading reading{"spin", fitted, vectors, {}, 100.0};
  reading.covariances.assign(vectors.size(), u * u * Eigen::Matrix2d::Identity());
  return reading;
}

CoefficientPrior prior_about(const std::vector<Phasor>& mean, double u) {
  CoefficientPrior prior;
  prior.mean.resize(2 * static_cast<Eigen::Index>(mean.size()));
  for (std::size_t i = 0; i < mean.size(); ++i)
    prior.mean.segment<2>(2 * static_cast<Eigen::Index>(i)) << mean[i].real(), mean[i].imag();
  prior.covariance = u * u * Eigen::MatrixXd::Identity(prior.mean.size(), prior.mean.size());
  return prior;
}

InfluenceOptions exactly_set() {
  InfluenceOptions options;
  options.setting = {0.0, 0.0, 0.0};
  return options;
}

const ErrorShare& share_of(const InfluenceSummary& answer, ErrorSource source) {
  const auto at = std::find_if(answer.budget.begin(), answer.budget.end(),
                               [&](const ErrorShare& share) { return share.source == source; });
  REQUIRE(at != answer.budget.end());
  return *at;
}

Eigen::Matrix2d rows_of_phasor(const Phasor& w) {
  Eigen::Matrix2d rows;
  rows << w.real(), -w.imag(), w.imag(), w.real();
  return rows;
}

const Names a_and_b = {"A", "B"};

}  // namespace

// A. Gelman et al., Bayesian Data Analysis, 3rd ed., 14.8 (from memory): the mean is (XᵀR⁻¹X + V⁻¹)⁻¹(XᵀR⁻¹y + V⁻¹m),
// its covariance that inverse.
TEST_CASE("a prior and two spins give the mean and covariance of the conjugate update") {
  const std::vector<Phasor> mean = {{2.0, 0.5}, {0.4, -0.3}, {0.3, 0.2}, {1.8, -0.6}};
  InfluenceOptions options = exactly_set();
  options.prior = prior_about(mean, 0.2);
  const std::vector<SpinReading> spins = {spin({}, {{3.0, 1.0}, {-1.0, 2.0}}, 0.05),
                                          spin({weight(0, 2.0, 0.7)}, {{5.9, 4.1}, {-0.9, 2.9}}, 0.05)};
  const InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b, options);
  REQUIRE(answer.usable());
  // Unknowns: Z_0 of both sensors, then (α_1, α_2) of both.
  Eigen::MatrixXd x = Eigen::MatrixXd::Zero(8, 12);
  Eigen::VectorXd y(8);
  for (int k = 0; k < 2; ++k) {
    for (int s = 0; s < 2; ++s) {
      const int at = 4 * k + 2 * s;
      x.block<2, 2>(at, 2 * s).setIdentity();
      if (k == 1) x.block<2, 2>(at, 4 + 4 * s) = rows_of_phasor(std::polar(2.0, 0.7));
      y.segment<2>(at) << spins[k].vectors[s].real(), spins[k].vectors[s].imag();
    }
  }
  Eigen::MatrixXd precision = x.transpose() * x / (0.05 * 0.05);
  Eigen::VectorXd pull = x.transpose() * y / (0.05 * 0.05);
  precision.bottomRightCorner<8, 8>() += Eigen::MatrixXd::Identity(8, 8) / (0.2 * 0.2);
  pull.tail<8>() += options.prior->mean / (0.2 * 0.2);
  const Eigen::MatrixXd covariance = precision.inverse();
  const Eigen::VectorXd expected = covariance * pull;
  for (int i = 0; i < 4; ++i) {
    const Phasor alpha(expected(4 + 2 * i), expected(5 + 2 * i));
    CHECK(std::abs(answer.coefficients[i].value - alpha) < exact);
    CHECK((answer.coefficients[i].covariance - covariance.block<2, 2>(4 + 2 * i, 4 + 2 * i)).norm() < exact);
  }
}

TEST_CASE("with a prior one spin gives the answer, and a prior that says nothing changes no answer") {
  const std::vector<Phasor> mean = {{2.0, 0.5}, {0.4, -0.3}, {0.3, 0.2}, {1.8, -0.6}};
  Eigen::Matrix2cd alpha;
  alpha << mean[0], mean[1], mean[2], mean[3];
  const Eigen::Vector2cd read(Phasor(3.0, 1.0), Phasor(-1.0, 2.0));
  InfluenceOptions options;
  options.prior = prior_about(mean, 0.1);
  const InfluenceSummary one = solve_influence({spin({}, {read(0), read(1)}, 0.05)}, a_and_b, a_and_b, options);
  REQUIRE(one.usable());
  const Eigen::Vector2cd expected = alpha.inverse() * read;
  for (int p = 0; p < 2; ++p) CHECK(std::abs(one.planes[p].residual_kg_m - expected(p)) < exact * expected.norm());
  const std::vector<SpinReading> spins = {spin({}, {{3.0, 1.0}, {-1.0, 2.0}}, 0.05),
                                          spin({weight(0, 2.0, 0.7)}, {{5.9, 4.1}, {-0.9, 2.9}}, 0.05),
                                          spin({weight(1, 2.0, 0.2)}, {{4.1, 0.9}, {2.4, 1.4}}, 0.05)};
  options = exactly_set();
  const InfluenceSummary alone = solve_influence(spins, a_and_b, a_and_b, options);
  options.prior = prior_about({0.0, 0.0, 0.0, 0.0}, 1e4);
  const InfluenceSummary with = solve_influence(spins, a_and_b, a_and_b, options);
  REQUIRE(alone.usable());
  REQUIRE(with.usable());
  constexpr double hardly = 1e-6;  // the prior weighs (0.05/2)²/1e8 of a reading
  for (int p = 0; p < 2; ++p) CHECK(std::abs(with.planes[p].residual_kg_m - alone.planes[p].residual_kg_m) < hardly);
  CHECK((with.residual_covariance - alone.residual_covariance).norm() < hardly * alone.residual_covariance.norm());
}

TEST_CASE("spins that contradict a prior beyond chance are said, and the uncertainty is widened by chi-squared") {
  InfluenceOptions options = exactly_set();
  options.prior = prior_about({{2.0, 0.0}}, 0.1);
  // One plane, one sensor: the trial of 1 reads 5 where 2 ± 0.1 was foretold.
  const std::vector<SpinReading> spins = {spin({weight(0, 1.0, 0.0)}, {{8.0, 0.0}}, 0.05),
                                          spin({}, {{3.0, 0.0}}, 0.05)};
  const InfluenceSummary answer = solve_influence(spins, {"A"}, {"A"}, options);
  REQUIRE(answer.usable());
  CHECK(says(answer, WarningCode::out_of_band));
  // By pencil: 3 over the root of 2·0.05² + 0.1², two degrees of freedom.
  const double widened = 9.0 / (2.0 * 0.05 * 0.05 + 0.1 * 0.1) / 2.0;
  CHECK(answer.chi_squared_per_dof == Approx(widened).epsilon(exact));
  const double precision = 1.0 / (0.1 * 0.1) + 1.0 / (2.0 * 0.05 * 0.05);
  CHECK(answer.coefficients[0].covariance(0, 0) == Approx(widened / precision).epsilon(exact));
  options.prior->degrees_of_freedom = 1.0;  // of so few shafts the covariance is worth little
  CHECK_FALSE(says(solve_influence(spins, {"A"}, {"A"}, options), WarningCode::out_of_band));
}

// GUM (JCGM 100:2008), 5.1, against a Monte Carlo of the same errors (JCGM 101:2008 in spirit): 4 000 draws fix a
// standard deviation to 1.1 %, so 6 % is five of its own standard deviations.
TEST_CASE("with a prior and known adapters the stated covariance is the scatter that all errors make", "[long]") {
  const double u = 0.01;
  const double u_alpha = 0.03;
  const double u_adapters = 0.2;
  InfluenceOptions options;
  options.setting = {0.02, radians(2.0), radians(1.0)};
  const std::vector<Phasor> mean = {{2.0, 0.5}, {0.4, -0.3}, {0.3, 0.2}, {1.8, -0.6}};
  options.prior = prior_about(mean, u_alpha);
  options.adapters =
      AdapterShare{{{6.0, -2.0}, {-3.0, 5.0}}, u_adapters * u_adapters * Eigen::MatrixXd::Identity(4, 4)};
  const double turned = 0.8;
  const Eigen::Vector2cd unbalance(Phasor(4.0, 3.0), Phasor(-2.0, 5.0));
  const std::vector<std::vector<FittedWeight>> states = {{weight(0, 5.0, 0.3)}, {weight(1, 4.0, 2.0)}};
  std::mt19937_64 random(31);
  std::normal_distribution<double> normal;
  const auto drawn = [&](double size) { return size * Phasor(normal(random), normal(random)); };
  Eigen::Matrix4d scatter = Eigen::Matrix4d::Zero();
  Eigen::Matrix4d stated = Eigen::Matrix4d::Zero();
  const int draws = 4000;
  for (int draw = 0; draw < draws; ++draw) {
    Eigen::Matrix2cd alpha;
    alpha << mean[0] + drawn(u_alpha), mean[1] + drawn(u_alpha), mean[2] + drawn(u_alpha), mean[3] + drawn(u_alpha);
    Eigen::Vector2cd adapters;
    for (int p = 0; p < 2; ++p) adapters(p) = options.adapters->unbalance_kg_m[p] + drawn(u_adapters);
    const double really_turned = turned + options.setting.turned_rad * normal(random);
    std::vector<SpinReading> spins;
    Eigen::Vector2cd left;
    for (const auto& fitted : states) {
      left = unbalance;
      for (const FittedWeight& piece : fitted)
        left(piece.plane) += piece.unbalance_kg_m() * (1.0 + options.setting.mass_fraction * normal(random)) *
                             phasor_at(1.0, options.setting.angle_rad * normal(random));
      const Eigen::Vector2cd z = alpha * (left + adapters * phasor_at(1.0, -really_turned));
      spins.push_back(spin(fitted, {z(0) + drawn(u), z(1) + drawn(u)}, u));
      spins.back().turned_rad = turned;
    }
    const InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b, options);
    REQUIRE(answer.usable());
    stated += answer.residual_covariance / draws;
    Eigen::Vector4d error;
    for (int p = 0; p < 2; ++p) {
      const Phasor miss = answer.planes[p].residual_kg_m - left(p);
      error.segment<2>(2 * p) << miss.real(), miss.imag();
    }
    scatter += error * error.transpose() / draws;
  }
  for (int i = 0; i < 4; ++i) CHECK(std::sqrt(scatter(i, i)) == Approx(std::sqrt(stated(i, i))).epsilon(0.06));
}

TEST_CASE("the share of known adapters is their covariance, turned with them, with and without a prior") {
  for (const bool with_prior : {true, false}) {
    CAPTURE(with_prior);
    InfluenceOptions options;
    if (with_prior) options.prior = prior_about({{2.0, 0.0}}, 0.01);
    Eigen::Matrix2d known = Eigen::Vector2d(0.04, 0.01).asDiagonal();
    options.adapters = AdapterShare{{{3.0, 0.0}}, known};
    std::vector<SpinReading> spins = {spin({weight(0, 5.0, 0.0)}, {{22.0, 8.0}}, 0.05), spin({}, {{12.0, 8.0}}, 0.05)};
    for (SpinReading& each : spins) each.turned_rad = pi / 2.0;
    const InfluenceSummary answer = solve_influence(spins, {"A"}, {"A"}, options);
    REQUIRE(answer.usable());
    // What reads 12 + 8j at 2 is 6 + 4j, of which e^{−jπ/2}·3 = −3j is the adapters'; a quarter turn swaps the parts'
    // ±.
    CHECK(std::abs(answer.planes[0].residual_kg_m - Phasor(6.0, 7.0)) < 1e-6);
    const Eigen::Matrix2d share = share_of(answer, ErrorSource::adapters).covariance;
    CHECK(share(0, 0) == Approx(0.01).epsilon(1e-6));
    CHECK(share(1, 1) == Approx(0.04).epsilon(1e-6));
  }
}

// Adapters of 3 kg·m, turned by a quarter to −3j: set δ too far they are −3j·e^{−jδ}, so that 3·δ of them is along the
// real part and nothing of first order along the other.
TEST_CASE("an error of the angle that known adapters were turned by shows across them, as large as what they weigh") {
  InfluenceOptions options = exactly_set();
  options.setting.turned_rad = 0.02;
  options.adapters = AdapterShare{{{3.0, 0.0}}, Eigen::Matrix2d::Zero()};
  std::vector<SpinReading> spins = {spin({weight(0, 5.0, 0.0)}, {{22.0, 8.0}}, 0.05), spin({}, {{12.0, 8.0}}, 0.05)};
  for (SpinReading& each : spins) each.turned_rad = pi / 2.0;
  const InfluenceSummary answer = solve_influence(spins, {"A"}, {"A"}, options);
  REQUIRE(answer.usable());
  const Eigen::Matrix2d share = share_of(answer, ErrorSource::turning).covariance;
  CHECK(share(0, 0) == Approx(0.06 * 0.06));
  CHECK(std::abs(share(1, 1)) < exact);
}

// Two sensors that both read 2 a kg·m, one ten times as noisy as the other: the mean of what they say, each weighted by
// one over its variance (GUM, JCGM 100:2008, H.1 in spirit; any text on least squares), 100 to 1.
TEST_CASE("of two sensors that say different things the calmer one counts more, as one over the variances") {
  std::vector<SpinReading> spins = {spin({weight(0, 5.0, 0.0)}, {{20.0, 0.0}, {22.02, 0.0}}, 0.05),
                                    spin({}, {{10.0, 0.0}, {12.02, 0.0}}, 0.05)};
  for (SpinReading& each : spins) each.covariances[1] *= 100.0;
  const InfluenceSummary answer = solve_influence(spins, {"A"}, a_and_b, exactly_set());
  REQUIRE(answer.usable());
  CHECK(answer.planes[0].residual_kg_m.real() == Approx((100.0 * 5.0 + 6.01) / 101.0).epsilon(exact));
}

// Two as-found spins r ± d and a trial W, all of one sensor and plane: Z_0 is their mean and α what the trial alone
// says. Set by ε too heavy, the trial is read as α(1 + ε), and the residual is out by (U_0 + W)ε: the share of setting
// is (0.01·U)² along U and as much across for 0.01 rad. Chi-squared is 2·d²/u² over two degrees of freedom.
TEST_CASE(
    "where spins contradict one another, every share of the uncertainty is widened by chi-squared over its degrees") {
  InfluenceOptions options;
  options.setting = {0.01, 0.01, 0.0};
  const double u = 0.02;
  const Phasor residual(5.0, 2.0);  // (Z_0 + αW)/α with Z_0 = 6 + 4j, α = 2, W = 2
  for (const double d : {0.0, 0.4}) {
    CAPTURE(d);
    const InfluenceSummary answer =
        solve_influence({spin({}, {Phasor(6.0 + d, 4.0)}, u), spin({}, {Phasor(6.0 - d, 4.0)}, u),
                         spin({weight(0, 2.0, 0.0)}, {{10.0, 4.0}}, u)},
                        {"A"}, {"A"}, options);
    REQUIRE(answer.usable());
    CHECK(says(answer, WarningCode::spins_disagree) == (d > 0.0));
    CHECK(std::abs(answer.planes[0].residual_kg_m - residual) < exact);
    const double widened = d > 0.0 ? d * d / (u * u) : 1.0;
    const double setting = widened * 1e-4 * std::norm(residual);
    CHECK(share_of(answer, ErrorSource::setting).covariance(0, 0) == Approx(setting).epsilon(1e-6));
    CHECK(share_of(answer, ErrorSource::setting).covariance(1, 1) == Approx(setting).epsilon(1e-6));
    // δU = (1 − U/W)·δz/α + (U/W)·δZ_0/α, of u and u/√2.
    const double own = std::norm(1.0 - residual / 2.0) + 0.5 * std::norm(residual / 2.0);
    CHECK(share_of(answer, ErrorSource::readings).covariance(0, 0) ==
          Approx(widened * own * u * u / 4.0).epsilon(1e-6));
  }
}

// One plane, one sensor, two spins: α is known to √2·u/W, so its effect is |change|/(√2·u).
TEST_CASE("a trial weight is called weak under ten standard uncertainties of its effect, and not over it") {
  const double u = 0.1;
  for (const auto& [effect, weak] : {std::pair(9.0, true), std::pair(4.5, true), std::pair(11.0, false)}) {
    CAPTURE(effect);
    const double change = effect * std::sqrt(2.0) * u;
    const InfluenceSummary answer =
        solve_influence({spin({}, {{6.0, 4.0}}, u), spin({weight(0, 1.0, 0.0)}, {{6.0 + change, 4.0}}, u)}, {"A"},
                        {"A"}, exactly_set());
    REQUIRE(answer.usable());
    CHECK(says(answer, WarningCode::weak_trial) == weak);
  }
}
