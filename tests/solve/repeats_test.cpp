#include "counterspot/solve/repeats.hpp"

#include <rapidcheck.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/solve/solution.hpp"

using namespace counterspot;

namespace {

const std::vector<std::string> sensors = {"A", "B"};
const std::vector<std::string> planes = {"A", "B"};
const std::vector<Phasor> alpha = {{900.0, -300.0}, {200.0, 500.0}, {-150.0, 250.0}, {700.0, 400.0}};
const std::vector<Phasor> as_found = {phasor_at(2.0, 0.6), phasor_at(1.4, 4.0)};

/// A noise-free reading with these weights; covariance of `u` in either part.
SpinReading spin(const std::string& label, const std::vector<FittedWeight>& fitted, double u) {
  SpinReading reading{label, fitted, as_found, {}, 170.0};
  for (std::size_t s = 0; s < 2; ++s) {
    for (const FittedWeight& piece : fitted)
      reading.vectors[s] += alpha[2 * s + static_cast<std::size_t>(piece.plane)] * piece.unbalance_kg_m();
    reading.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
  }
  return reading;
}

const std::vector<FittedWeight> trial_a = {{0, 0.015, 0.04, 0.0}};
const std::vector<FittedWeight> trial_b = {{1, 0.015, 0.04, 1.0}};

std::vector<SpinReading> whole_set(double u) {
  return {spin("as found", {}, u), spin("trial at A", trial_a, u), spin("trial at B", trial_b, u)};
}

void disturb(SpinReading& reading, double deviation, std::mt19937& generator) {
  std::normal_distribution<double> normal(0.0, deviation);
  for (Phasor& z : reading.vectors) z += Phasor(normal(generator), normal(generator));
}

bool says(const Warnings& warnings, WarningCode code, const std::string& sensor) {
  return std::any_of(warnings.begin(), warnings.end(),
                     [&](const Warning& w) { return w.code == code && w.sensor == sensor; });
}

}  // namespace

TEST_CASE("spins that scatter by no more than their noise get nothing added, and their mean is surer than each") {
  rc::check([] {
    const unsigned seed = *rc::gen::inRange(0U, 100000U);
    const int repeats = *rc::gen::inRange(2, 6);
    std::mt19937 generator(seed);
    std::vector<SpinReading> spins;
    for (int i = 0; i < repeats; ++i) {
      spins.push_back(spin("spin", {}, 0.01));
      disturb(spins.back(), 0.002, generator);  // well within the stated noise
    }
    auto measured = spins;
    const auto scatter = add_repeat_scatter(measured, sensors);
    RC_ASSERT(scatter.size() == 2);
    RC_ASSERT(scatter[0].added == 0.0);
    RC_ASSERT(scatter[0].degrees_of_freedom == 2 * (repeats - 1));
    const auto merged = merge_repeats(measured);
    RC_ASSERT(merged.size() == 1);
    RC_ASSERT(std::abs(merged[0].covariances[0](0, 0) - 1e-4 / repeats) < 1e-12);
    // and two spins with the same weights agree within their uncertainty
    const double apart = std::abs(spins[0].vectors[0] - spins[1].vectors[0]);
    RC_ASSERT(apart < std::sqrt(2.0 * 5.99) * 0.01);
  });
}

TEST_CASE("scatter beyond the noise is added to every spin, enlarged for its few degrees of freedom") {
  // by hand: two spins 0.2 apart: variance of either part 0.2²/2/2 = 0.01, noise 1e-4; two degrees of freedom: the
  // factor is 2(1/0.05 − 1)/5.99 = 6.343
  auto spins = whole_set(0.01);
  spins.push_back(spin("as found again", {}, 0.01));
  spins.back().vectors[0] += 0.2;
  const auto scatter = add_repeat_scatter(spins, sensors);
  REQUIRE(scatter.size() == 2);
  CHECK(scatter[0].spins == 2);
  CHECK(scatter[0].scatter == Approx(0.1));
  CHECK(scatter[0].noise == Approx(0.01));
  CHECK(scatter[0].added == Approx(std::sqrt((0.01 - 1e-4) * 6.343)).epsilon(1e-3));
  CHECK(scatter[1].added == 0.0);
  for (const SpinReading& reading : spins)
    CHECK(reading.covariances[0](0, 0) == Approx(1e-4 + scatter[0].added * scatter[0].added));
}

TEST_CASE(
    "without repeats nothing is estimated and nothing is merged; merged spins stand where the last of them stood") {
  auto spins = whole_set(0.01);
  CHECK(add_repeat_scatter(spins, sensors).empty());
  CHECK(merge_repeats(spins).size() == 3);
  spins.push_back(spin("as found again", {}, 0.01));
  const auto merged = merge_repeats(spins);
  REQUIRE(merged.size() == 3);
  CHECK(merged.front().label == "trial at A");
  CHECK(merged.back().label == "as found again");
}

TEST_CASE("the stated 95 % region of a re-seated shaft's mean holds the truth, whatever few repeats there were") {
  // re-seating is five times the noise; 1500 draws fix the share to 0.6 %
  for (const int repeats : {2, 4}) {
    std::mt19937 generator(7);
    int inside = 0;
    const int draws = 1500;
    for (int i = 0; i < draws; ++i) {
      std::vector<SpinReading> spins;
      for (int k = 0; k < repeats; ++k) {
        spins.push_back(spin("spin", {}, 0.01));
        disturb(spins.back(), std::hypot(0.01, 0.05), generator);
      }
      add_repeat_scatter(spins, sensors);
      const SpinReading mean = merge_repeats(spins).front();
      const Phasor error = mean.vectors[0] - as_found[0];
      inside += std::norm(error) < 5.991 * mean.covariances[0](0, 0) ? 1 : 0;
    }
    // the noise is taken off before the estimate is enlarged, and chance may hide a small scatter: a little under 95 %
    CHECK(inside > 0.925 * draws);
    CHECK(inside < 0.97 * draws);
  }
}

TEST_CASE("sensors that changed places, turned over or are ten times out are named against a like spin") {
  auto spins = whole_set(0.001);
  spins.push_back(spin("again", {}, 0.001));
  CHECK(compare_spins(spins, planes, sensors, {}).empty());
  auto swapped = spins;
  std::swap(swapped[3].vectors[0], swapped[3].vectors[1]);
  CHECK(says(compare_spins(swapped, planes, sensors, {}), WarningCode::swapped_sensors, "A"));
  auto turned = spins;
  turned[3].vectors[1] *= -1.0;
  CHECK(says(compare_spins(turned, planes, sensors, {}), WarningCode::inverted_polarity, "B"));
  auto scaled = spins;
  scaled[3].vectors[0] *= 10.0;
  const Warnings said = compare_spins(scaled, planes, sensors, {});
  REQUIRE(said.size() == 1);
  CHECK(says(said, WarningCode::wrong_sensitivity, "A"));
  CHECK_THAT(said[0].message, Catch::StartsWith("sensor A: it reads 10.0 times more"));
  CHECK(said[0].spins == std::vector<std::string>{"again"});
}

TEST_CASE("with other weights the coefficients say what a sensor should read") {
  std::vector<SpinReading> spins = {spin("as found", {}, 0.001), spin("trial at A", trial_a, 0.001)};
  InfluenceOptions options;
  options.prior = CoefficientPrior{Eigen::VectorXd(8), Eigen::MatrixXd::Identity(8, 8)};
  for (Eigen::Index i = 0; i < 4; ++i) {
    options.prior->mean(2 * i) = alpha[static_cast<std::size_t>(i)].real();
    options.prior->mean(2 * i + 1) = alpha[static_cast<std::size_t>(i)].imag();
  }
  CHECK(compare_spins(spins, planes, sensors, options).empty());
  spins[1].vectors[1] *= -1.0;
  CHECK(says(compare_spins(spins, planes, sensors, options), WarningCode::inverted_polarity, "B"));
}

TEST_CASE("in a set with spins to spare the odd one out is named") {
  auto spins = whole_set(0.001);
  std::vector<FittedWeight> both = trial_a;
  both.push_back({1, 0.01, 0.04, 2.0});
  spins.push_back(spin("both", both, 0.001));
  CHECK(compare_spins(spins, planes, sensors, {}).empty());
  spins[3].vectors[0] *= 0.1;
  CHECK(says(compare_spins(spins, planes, sensors, {}), WarningCode::wrong_sensitivity, "A"));
}
