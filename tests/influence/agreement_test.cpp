#include "counterspot/influence/agreement.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace counterspot;

namespace {

const std::vector<std::string> names = {"A", "B"};
const std::vector<Phasor> alpha = {{900.0, -300.0}, {200.0, 500.0}, {-150.0, 250.0}, {700.0, 400.0}};
const std::vector<Phasor> as_found = {phasor_at(0.8, 0.6), phasor_at(0.5, 4.0)};
constexpr double noise = 0.003;

/// As found, a trial at each plane, and a correction, with noise.
std::vector<SpinReading> four_spins(unsigned seed) {
  std::mt19937 generator(seed);
  std::normal_distribution<double> normal(0.0, noise);
  const FittedWeight a{0, 0.012, 0.04, 0.3};
  const FittedWeight b{1, 0.010, 0.04, 2.0};
  const FittedWeight more{0, 0.008, 0.04, 4.4};
  std::vector<SpinReading> spins;
  for (const std::vector<FittedWeight>& fitted : {std::vector<FittedWeight>{}, {a}, {b}, {b, more}}) {
    SpinReading spin{"spin", fitted, as_found, {}, 170.0};
    for (std::size_t s = 0; s < 2; ++s) {
      for (const FittedWeight& piece : fitted)
        spin.vectors[s] += alpha[2 * s + static_cast<std::size_t>(piece.plane)] * piece.unbalance_kg_m();
      spin.vectors[s] += Phasor(normal(generator), normal(generator));
      spin.covariances.emplace_back(noise * noise * Eigen::Matrix2d::Identity());
    }
    spins.push_back(spin);
  }
  spins.back().label = "corrected";
  return spins;
}

InfluenceOptions exact_weights() {
  InfluenceOptions options;
  options.setting = {0.0, 0.0, 0.0};
  return options;
}

}  // namespace

TEST_CASE("what is expected of a spin is what the regression of the other spins predicts") {
  const auto spins = four_spins(1);
  const Agreement agreement = agreement_of(spins, 2, alpha, exact_weights());
  CHECK(agreement.degrees_of_freedom == 4);  // two sensors, one complex reading to spare each
  for (std::size_t k = 0; k < spins.size(); ++k) {
    auto others = spins;
    others.erase(others.begin() + static_cast<std::ptrdiff_t>(k));
    const InfluenceSummary fit = solve_influence(others, names, names, exact_weights());
    REQUIRE(fit.usable());
    const std::size_t from = k == 0 ? 1 : 0;
    for (std::size_t s = 0; s < 2; ++s) {
      Phasor predicted = spins[from].vectors[s];
      for (const FittedWeight& piece : spins[k].fitted)
        predicted += fit.coefficients[2 * s + static_cast<std::size_t>(piece.plane)].value * piece.unbalance_kg_m();
      for (const FittedWeight& piece : spins[from].fitted)
        predicted -= fit.coefficients[2 * s + static_cast<std::size_t>(piece.plane)].value * piece.unbalance_kg_m();
      REQUIRE(agreement.expected[k][s]);
      CHECK(std::abs(agreement.expected[k][s]->value - predicted) < 1e-9);
    }
    // With one reading to spare nothing contradicts the three that are left.
    CHECK(std::abs(agreement.without[k]) < 1e-6 * std::max(1.0, agreement.chi_squared));
  }
}

TEST_CASE("the stated uncertainty of what is expected is the true one") {
  constexpr int draws = 1000;
  int inside = 0;
  double sum = 0.0;
  for (unsigned seed = 0; seed < draws; ++seed) {
    const Agreement agreement = agreement_of(four_spins(100 + seed), 2, alpha, exact_weights());
    inside +=
        agreement.expected.back()[0]->chi_squared <= 5.991 ? 1 : 0;  // 95 % of chi-squared, two degrees of freedom
    sum += agreement.chi_squared;
  }
  CHECK(std::abs(inside - 0.95 * draws) < 3.0 * std::sqrt(draws * 0.95 * 0.05));
  // The mean of chi-squared is its degrees of freedom, 4, its variance twice that.
  CHECK(std::abs(sum / draws - 4.0) < 3.0 * std::sqrt(8.0 / draws));
}

TEST_CASE("a spin without which the planes cannot be told apart is not expected to read anything") {
  auto spins = four_spins(3);
  spins.back().fitted.clear();  // as found once more: only that state is there twice
  const Agreement agreement = agreement_of(spins, 2, alpha, exact_weights());
  CHECK(agreement.expected[0][0].has_value());
  CHECK_FALSE(agreement.expected[1][0].has_value());
  CHECK_FALSE(agreement.expected[2][1].has_value());
  CHECK(agreement.expected[3][1].has_value());
}

TEST_CASE("where the last spin reads half of what the change of weights lets expect, spin and sensor are named") {
  auto spins = four_spins(4);
  spins.back().vectors[1] *= 0.5;
  InfluenceOptions options;  // weights set to 1 % and 1 deg
  const InfluenceSummary answer = solve_influence(spins, names, names, options);
  REQUIRE(answer.usable());
  const auto said = std::find_if(answer.warnings.begin(), answer.warnings.end(),
                                 [](const Warning& each) { return each.code == WarningCode::spins_disagree; });
  REQUIRE(said != answer.warnings.end());
  CHECK(said->spins == std::vector<std::string>{"corrected"});
  CHECK(said->sensors == std::vector<std::string>{"B"});
  CHECK_THAT(said->message, Catch::Contains("sensor B reads 0."));
  CHECK(answer.chi_squared_per_dof > 3.0);
}

TEST_CASE("sound spins are said to contradict one another in one case of some hundred at most") {
  int said = 0;
  constexpr int draws = 400;
  for (unsigned seed = 0; seed < draws; ++seed)
    said += solve_influence(four_spins(5000 + seed), names, names).warnings.empty() ? 0 : 1;
  CHECK(said <= draws / 100);
}

TEST_CASE("beyond chance is once in a thousand, of chi-squared and of F") {
  // The 0.1 % points of any table: chi-squared 13.816 (2 degrees of freedom) and 18.467 (4); F(4, 10) 11.28 and
  // F(4, 20) 7.10, from memory. The approximation is good to 2 %, for F of few degrees of freedom to 6 %.
  CHECK_FALSE(beyond_chance(0.98 * 13.816, 2));
  CHECK(beyond_chance(1.02 * 13.816, 2));
  CHECK_FALSE(beyond_chance(0.98 * 18.467, 4));
  CHECK(beyond_chance(1.02 * 18.467, 4));
  CHECK_FALSE(beyond_chance(0.94 * 4.0 * 11.28, 4, 10.0));
  CHECK(beyond_chance(1.06 * 4.0 * 11.28, 4, 10.0));
  CHECK_FALSE(beyond_chance(0.94 * 4.0 * 7.10, 4, 20.0));
  CHECK(beyond_chance(1.06 * 4.0 * 7.10, 4, 20.0));
}
