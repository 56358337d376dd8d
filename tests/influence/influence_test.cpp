#include "counterspot/influence/influence.hpp"
#include "says.hpp"

#include <rapidcheck.h>

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <random>

using namespace counterspot;
using counterspot::test::says;

namespace {

using Names = std::vector<std::string>;
const Names a_and_b = {"A", "B"};

Phasor polar_deg(double magnitude, double direction_deg) {
  return phasor_at(magnitude, radians(direction_deg));
}

/// A weight whose unbalance is w at 1 m radius, so that the numbers of a textbook in any unit pass through.
FittedWeight weight(int plane, double size, double angle_deg) {
  return {plane, size, 1.0, radians(angle_deg)};
}

SpinReading spin(std::string label, std::vector<FittedWeight> fitted, std::vector<Phasor> vectors, double u = 0.0) {
  std::vector<Eigen::Matrix2d> covariances(vectors.size(), u * u * Eigen::Matrix2d::Identity());
  return {std::move(label), std::move(fitted), std::move(vectors), std::move(covariances), {}};
}

/// S. S. Rao, Mechanical Vibrations, two-plane balancing of a turbine rotor (data from memory).
std::vector<SpinReading> raos_spins() {
  return {spin("as found", {}, {polar_deg(8.5, 60), polar_deg(6.5, 205)}),
          spin("left", {weight(0, 10.0, 270)}, {polar_deg(6.0, 125), polar_deg(4.5, 230)}),
          spin("right", {weight(1, 12.0, 180)}, {polar_deg(6.0, 35), polar_deg(10.5, 160)})};
}

void check_polar(const Phasor& z, double magnitude, double direction_deg_expected) {
  CHECK(std::abs(z) == Approx(magnitude).margin(0.5e-4 * 1.01));                   // printed digits
  CHECK(direction_deg(z) == Approx(direction_deg_expected).margin(0.5e-4 * 1.5));  // printed digits
}

/// A rig made up of any well-conditioned coefficients, and readings that follow from it exactly.
struct MadeUp {
  Eigen::MatrixXcd alpha;
  Eigen::VectorXcd unbalance;
  std::vector<SpinReading> spins;
};

Phasor random_phasor(double smallest, double largest) {
  return polar_deg(smallest + (largest - smallest) * *rc::gen::inRange(0, 1000) * 1e-3,
                   *rc::gen::inRange(0, 3600) * 0.1);
}

MadeUp made_up(int planes, int sensors, int extra_spins) {
  MadeUp rig{Eigen::MatrixXcd(sensors, planes), Eigen::VectorXcd(planes), {}};
  for (int s = 0; s < sensors; ++s) {
    for (int p = 0; p < planes; ++p) rig.alpha(s, p) = s == p ? random_phasor(2.0, 3.0) : random_phasor(0.0, 0.5);
  }
  for (int p = 0; p < planes; ++p) rig.unbalance(p) = random_phasor(0.5, 2.0);
  for (int k = 0; k < 1 + planes + extra_spins; ++k) {
    std::vector<FittedWeight> fitted;
    if (k > 0 && k <= planes) fitted = {weight(k - 1, 1.0, *rc::gen::inRange(0, 360))};
    if (k > planes) {
      for (int p = 0; p < planes; ++p) fitted.push_back(weight(p, 0.5 + 0.1 * k, *rc::gen::inRange(0, 360)));
    }
    Eigen::VectorXcd total = rig.unbalance;
    for (const FittedWeight& piece : fitted) total(piece.plane) += piece.unbalance_kg_m();
    Eigen::VectorXcd z = rig.alpha * total;
    rig.spins.push_back(spin("spin", fitted, {z.data(), z.data() + z.size()}, 1e-3));
  }
  return rig;
}

constexpr double exact = 1e-9;  // linear algebra on well-conditioned made-up rigs, a few digits above double rounding

}  // namespace

// Answer recomputed from the data above by hand calculation; agrees with the printed one to all its digits.
TEST_CASE("Rao's two-plane example gives Rao's coefficients and unbalance") {
  InfluenceSummary answer = solve_influence(raos_spins(), a_and_b, a_and_b);
  REQUIRE(answer.usable());
  check_polar(answer.coefficients[0].value, 0.807112, 287.6435);
  check_polar(answer.coefficients[1].value, 0.331313, 99.6275);
  check_polar(answer.coefficients[2].value, 0.307912, 76.8562);
  check_polar(answer.coefficients[3].value, 0.623498, 302.0988);
  check_polar(answer.planes[0].as_found_kg_m, 10.0561, 145.5548);
  check_polar(answer.planes[1].as_found_kg_m, 5.8774, 248.2559);
}

TEST_CASE("the correction is for the shaft as it was at the last spin") {
  // In the last of Rao's spins the weight 12 at 180 deg is still on the right plane.
  InfluenceSummary answer = solve_influence(raos_spins(), a_and_b, a_and_b);
  Phasor expected = polar_deg(5.8774, 248.2559) + polar_deg(12.0, 180.0);
  CHECK(std::abs(answer.planes[1].residual_kg_m - expected) < 2e-4);  // printed digits
  CHECK(answer.planes[1].correction_kg_m == -answer.planes[1].residual_kg_m);
}

TEST_CASE("any number of planes and sensors is recovered exactly from readings that fit the model") {
  CHECK(rc::check([] {
    int planes = *rc::gen::inRange(1, 5);
    int sensors = planes + *rc::gen::inRange(0, 3);
    MadeUp rig = made_up(planes, sensors, *rc::gen::inRange(0, 3));
    Names plane_names(planes, "plane"), sensor_names(sensors, "sensor");
    InfluenceSummary answer = solve_influence(rig.spins, plane_names, sensor_names);
    RC_ASSERT(answer.usable());
    for (int p = 0; p < planes; ++p) {
      RC_ASSERT(std::abs(answer.planes[p].as_found_kg_m - rig.unbalance(p)) < exact);
      for (int s = 0; s < sensors; ++s)
        RC_ASSERT(std::abs(answer.coefficients[s * planes + p].value - rig.alpha(s, p)) < exact);
    }
    RC_ASSERT(answer.chi_squared_per_dof < exact);
  }));
}

TEST_CASE("turning every reading's phase leaves the unbalance alone; turning every weight turns it") {
  CHECK(rc::check([] {
    MadeUp rig = made_up(2, 2, 1);
    InfluenceSummary before = solve_influence(rig.spins, a_and_b, a_and_b);
    double turn = radians(*rc::gen::inRange(0, 360));
    auto tach_moved = rig.spins;
    for (auto& spin : tach_moved) {
      for (Phasor& z : spin.vectors) z *= phasor_at(1.0, turn);
    }
    auto mark_moved = rig.spins;
    for (auto& spin : mark_moved) {
      for (auto& piece : spin.fitted) piece.angle_rad += turn;
    }
    InfluenceSummary tach = solve_influence(tach_moved, a_and_b, a_and_b);
    InfluenceSummary mark = solve_influence(mark_moved, a_and_b, a_and_b);
    for (std::size_t p = 0; p < 2; ++p) {
      RC_ASSERT(std::abs(tach.planes[p].residual_kg_m - before.planes[p].residual_kg_m) < exact);
      RC_ASSERT(std::abs(mark.planes[p].residual_kg_m - before.planes[p].residual_kg_m * phasor_at(1.0, turn)) < exact);
    }
  }));
}

TEST_CASE("scaling all readings leaves the correction alone, scaling all weights scales it") {
  CHECK(rc::check([] {
    MadeUp rig = made_up(2, 3, 1);
    const Names three = {"A", "B", "C"};
    InfluenceSummary before = solve_influence(rig.spins, a_and_b, three);
    double scale = *rc::gen::element(1e-6, 1e-3, 7.0, 1e5);
    auto readings = rig.spins;
    auto weights = rig.spins;
    for (auto& spin : readings) {
      for (Phasor& z : spin.vectors) z *= scale;
      for (auto& covariance : spin.covariances) covariance *= scale * scale;
    }
    for (auto& spin : weights) {
      for (auto& piece : spin.fitted) piece.mass_kg *= scale;
    }
    InfluenceSummary louder = solve_influence(readings, a_and_b, three);
    InfluenceSummary heavier = solve_influence(weights, a_and_b, three);
    for (std::size_t p = 0; p < 2; ++p) {
      RC_ASSERT(std::abs(louder.planes[p].correction_kg_m - before.planes[p].correction_kg_m) < exact);
      RC_ASSERT(std::abs(heavier.planes[p].correction_kg_m - scale * before.planes[p].correction_kg_m) < exact * scale);
    }
    RC_ASSERT((louder.residual_covariance - before.residual_covariance).norm() <
              1e-6 * before.residual_covariance.norm());
  }));
}

TEST_CASE("the order of the spins before the last, and of the sensors, does not matter") {
  CHECK(rc::check([] {
    MadeUp rig = made_up(2, 3, 2);
    const Names three = {"A", "B", "C"};
    InfluenceSummary before = solve_influence(rig.spins, a_and_b, three);
    auto shuffled = rig.spins;
    std::rotate(shuffled.begin(), shuffled.begin() + *rc::gen::inRange(0, 4), shuffled.end() - 1);
    for (auto& spin : shuffled) {
      std::rotate(spin.vectors.begin(), spin.vectors.begin() + 1, spin.vectors.end());
      std::rotate(spin.covariances.begin(), spin.covariances.begin() + 1, spin.covariances.end());
    }
    InfluenceSummary after = solve_influence(shuffled, a_and_b, three);
    for (std::size_t p = 0; p < 2; ++p) {
      RC_ASSERT(std::abs(after.planes[p].residual_kg_m - before.planes[p].residual_kg_m) < exact);
    }
    RC_ASSERT((after.residual_covariance - before.residual_covariance).norm() <
              1e-6 * before.residual_covariance.norm());
  }));
}

TEST_CASE("the correction for the bare shaft leaves what the one on top of the trial weights leaves") {
  CHECK(rc::check([] {
    MadeUp rig = made_up(2, 3, 1);
    const Names three = {"A", "B", "C"};
    InfluenceOptions options;
    options.coming_off = rig.spins.back().fitted;
    const InfluenceSummary answer = solve_influence(rig.spins, a_and_b, three, options);
    const double turn = radians(*rc::gen::inRange(0, 360));
    auto turned = rig.spins;
    for (auto& spin : turned) {
      for (auto& piece : spin.fitted) piece.angle_rad += turn;
    }
    InfluenceOptions turned_options;
    turned_options.coming_off = turned.back().fitted;
    const InfluenceSummary mark_moved = solve_influence(turned, a_and_b, three, turned_options);
    for (std::size_t p = 0; p < 2; ++p) {
      Phasor off;
      for (const FittedWeight& piece : options.coming_off)
        if (piece.plane == static_cast<int>(p)) off += piece.unbalance_kg_m();
      const PlaneUnbalance& plane = answer.planes[p];
      RC_ASSERT(std::abs(plane.bare_kg_m - (plane.residual_kg_m - off)) < exact);
      // One weight in place of the trial weights and the correction on top of them.
      RC_ASSERT(std::abs(plane.bare_correction_kg_m - (plane.correction_kg_m + off)) < exact);
      RC_ASSERT(std::abs(mark_moved.planes[p].bare_correction_kg_m -
                         phasor_at(1.0, turn) * plane.bare_correction_kg_m) < exact);
      RC_ASSERT(std::abs(mark_moved.planes[p].correction_kg_m - phasor_at(1.0, turn) * plane.correction_kg_m) < exact);
    }
  }));
}

TEST_CASE("a correction for the bare shaft is no heavier than allowed either") {
  const auto spins = raos_spins();  // the last one carries the trial at B
  InfluenceOptions options;
  options.coming_off = spins.back().fitted;
  options.most_kg_m = {3.0, 3.0};
  const InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b, options);
  REQUIRE(answer.usable());
  for (const PlaneUnbalance& plane : answer.planes) {
    CHECK(std::abs(plane.correction_kg_m) < 3.0 * 1.0001);
    CHECK(std::abs(plane.bare_correction_kg_m) < 3.0 * 1.0001);
  }
}

// GUM (JCGM 100:2008), 5.1, against a Monte Carlo of the same errors (JCGM 101:2008 in spirit): 4 000 draws fix a
// standard deviation to 1.1 %, so 6 % is five of its own standard deviations.
TEST_CASE("the stated covariance of the residual is the scatter that the stated errors make", "[long]") {
  const SettingUncertainty setting{0.02, radians(2.0)};
  InfluenceOptions options;
  options.setting = setting;
  const double u = 0.01;
  Eigen::Matrix2cd alpha;
  alpha << polar_deg(0.8, 287), polar_deg(0.33, 99), polar_deg(0.31, 77), polar_deg(0.62, 302);
  const Eigen::Vector2cd unbalance(polar_deg(10, 145), polar_deg(6, 248));
  const std::vector<std::vector<FittedWeight>> states = {
      {}, {weight(0, 10, 270)}, {weight(1, 12, 180)}, {weight(0, 9.5, 325), weight(1, 5.5, 70)}};
  std::mt19937 random(20260211);
  std::normal_distribution<double> normal;
  Eigen::Matrix4d scatter = Eigen::Matrix4d::Zero();
  Eigen::Matrix4d stated = Eigen::Matrix4d::Zero();
  Eigen::Matrix4d scatter_bare = Eigen::Matrix4d::Zero();  // once the last spin's pieces are off
  Eigen::Matrix4d stated_bare = Eigen::Matrix4d::Zero();
  options.coming_off = states.back();
  const int draws = 4000;
  for (int draw = 0; draw < draws; ++draw) {
    std::vector<SpinReading> spins;
    Eigen::Vector2cd left;
    for (const auto& fitted : states) {
      Eigen::Vector2cd total = unbalance;
      for (const FittedWeight& piece : fitted) {
        total(piece.plane) += piece.unbalance_kg_m() * (1.0 + setting.mass_fraction * normal(random)) *
                              phasor_at(1.0, setting.angle_rad * normal(random));
      }
      left = total;
      Eigen::Vector2cd z = alpha * total;
      for (Phasor& part : z) part += u * Phasor(normal(random), normal(random));
      spins.push_back(spin("spin", fitted, {z(0), z(1)}, u));
    }
    InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b, options);
    REQUIRE(answer.usable());
    stated += answer.residual_covariance / draws;  // what is left, and so its uncertainty, differs from draw to draw
    stated_bare += (answer.residual_covariance + answer.bare_covariance_change) / draws;
    Eigen::Vector4d error;
    Eigen::Vector4d error_bare;
    for (int p = 0; p < 2; ++p) {
      Phasor difference = answer.planes[p].residual_kg_m - left(p);
      error.segment<2>(2 * p) << difference.real(), difference.imag();
      difference = answer.planes[p].bare_kg_m - unbalance(p);
      error_bare.segment<2>(2 * p) << difference.real(), difference.imag();
    }
    scatter += error * error.transpose() / draws;
    scatter_bare += error_bare * error_bare.transpose() / draws;
  }
  for (int i = 0; i < 4; ++i) {
    CHECK(std::sqrt(scatter(i, i)) == Approx(std::sqrt(stated(i, i))).epsilon(0.06));
    CHECK(std::sqrt(scatter_bare(i, i)) == Approx(std::sqrt(stated_bare(i, i))).epsilon(0.06));
  }
}

TEST_CASE("spins that contradict one another are named, and the uncertainty grows") {
  auto spins = raos_spins();
  for (auto& each : spins) each.covariances.assign(2, 1e-4 * Eigen::Matrix2d::Identity());
  spins.push_back(spins[0]);
  spins.back().vectors[0] *= 2.0;  // the same state, another reading
  InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b);
  REQUIRE(answer.usable());
  REQUIRE(answer.warnings.size() >= 1);
  CHECK(answer.warnings[0].code == WarningCode::spins_disagree);
  CHECK(answer.chi_squared_per_dof > 10.0);
}

TEST_CASE("an as-found spin alone is refused, and the sentence asks for a trial") {
  auto spins = raos_spins();
  spins.resize(1);
  InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b);
  CHECK(answer.status == InfluenceStatus::too_few_spins);
  CHECK(answer.refusal.what == "no spin changes the weight at plane A");
  CHECK(answer.refusal.remedy == "make a spin with a trial weight there");
  spins = raos_spins();
  spins.resize(2);
  CHECK(solve_influence(spins, a_and_b, a_and_b).refusal.what == "no spin changes the weight at plane B");
}

TEST_CASE("two equal trials are refused") {
  auto spins = raos_spins();
  spins[1].fitted = {weight(0, 10, 0), weight(1, 10, 0)};
  spins[2].fitted = {weight(0, 10, 90), weight(1, 10, 90)};
  CHECK(solve_influence(spins, a_and_b, a_and_b).status == InfluenceStatus::trials_alike);
}

TEST_CASE("a trial weight that changes nothing is refused, whether or not the noise is known") {
  for (double u : {0.0, 0.05}) {
    CAPTURE(u);
    auto spins = raos_spins();
    spins[1].vectors = spins[0].vectors;
    for (auto& each : spins) each.covariances.assign(2, u * u * Eigen::Matrix2d::Identity());
    InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b);
    CHECK(answer.status == InfluenceStatus::trial_no_effect);
    CHECK(answer.refusal.what.find("plane A") != std::string::npos);
  }
}

TEST_CASE("a trial weight that changes little is taken, with a warning") {
  auto spins = raos_spins();
  spins[1].vectors = {spins[0].vectors[0] * 1.05, spins[0].vectors[1] * 1.02};
  InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b);
  REQUIRE(answer.usable());
  CHECK(says(answer, WarningCode::weak_trial));
}

TEST_CASE("sensors that cannot tell the planes apart are refused") {
  auto spins = raos_spins();
  for (std::size_t k = 1; k < 3; ++k) {
    for (std::size_t s = 0; s < 2; ++s) spins[k].vectors[s] = spins[0].vectors[s] + polar_deg(s == 0 ? 1.0 : 3.0, 20.0);
  }
  CHECK(solve_influence(spins, a_and_b, a_and_b).status == InfluenceStatus::planes_alike);
}

TEST_CASE("planes that can hardly be told apart are answered with a warning") {
  auto spins = raos_spins();
  for (std::size_t k = 1; k < 3; ++k) {
    for (std::size_t s = 0; s < 2; ++s) {
      double difference = k == 2 && s == 1 ? 1.05 : 1.0;
      spins[k].fitted = {weight(static_cast<int>(k) - 1, 10.0, 0.0)};
      spins[k].vectors[s] = spins[0].vectors[s] + difference * polar_deg(5.0, 20.0);
    }
  }
  InfluenceSummary answer = solve_influence(spins, a_and_b, a_and_b);
  REQUIRE(answer.usable());
  CHECK(answer.condition_number > 30.0);
  CHECK(says(answer, WarningCode::ill_conditioned));
}

TEST_CASE("one sensor is too few for two planes") {
  auto spins = raos_spins();
  for (auto& each : spins) {
    each.vectors.resize(1);
    each.covariances.resize(1);
  }
  CHECK(solve_influence(spins, a_and_b, {"A"}).status == InfluenceStatus::too_few_sensors);
}
