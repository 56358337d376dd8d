// The qualification of a rig whose readings a pencil gives: Z = α·(G_shaft + e^{−jγ}·G_adapters + W), the order of the
// spins and what is held against what after ISO 21940-21 (from memory).
#include "counterspot/rig/qualification.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "error_code.hpp"

using namespace counterspot;
using counterspot::test::code_of;

namespace {

constexpr double exact = 1e-9;  // relative: linear algebra on well-conditioned numbers

/// Sensors that move with their own plane, less with the other; the pedestals are stiff, so that displacement grows
/// with the square of the speed.
struct PencilRig {
  Rig rig;
  Shaft reference;
  RigClaims claims;
  Eigen::Matrix2cd alpha;
  Eigen::Vector2cd of_shaft{Phasor(3e-4, 1e-4), Phasor(-1e-4, 2e-4)};
  Eigen::Vector2cd of_adapters{Phasor(2e-5, 0.0), Phasor(0.0, 3e-5)};
  double power = 2.0;  ///< of the speed, that readings grow with

  PencilRig() {
    for (const char* name : {"A", "B"}) {
      Sensor sensor;
      sensor.name = name;
      rig.sensors.push_back(sensor);
      Plane plane;
      plane.name = name;
      plane.radius_m = 0.04;
      reference.planes.push_back(plane);
    }
    claims.umar_kg_m = 2e-5;
    alpha << Phasor(2.0, 0.5), Phasor(0.3, -0.1), Phasor(0.4, 0.2), Phasor(1.5, -1.0);
  }

  RigSpin spun(const PlannedRigSpin& planned) const {
    Eigen::Vector2cd unbalance = of_shaft + std::polar(1.0, -planned.turned_rad) * of_adapters;
    for (const FittedWeight& mass : planned.fitted) unbalance(mass.plane) += mass.unbalance_kg_m();
    const Eigen::Vector2cd z = std::pow(planned.speed_fraction, power) * alpha * unbalance;
    return {{z(0), z(1)}, {2, Eigen::Matrix2d::Zero()}, 150.0 * planned.speed_fraction};
  }
  std::vector<RigSpin> spins() const {
    std::vector<RigSpin> all;
    for (const PlannedRigSpin& planned : qualification_plan(reference, claims)) all.push_back(spun(planned));
    return all;
  }
  Qualification judged(const std::vector<RigSpin>& spins, const std::optional<Eigen::Matrix2cd>& record = {}) const {
    return qualify(rig, reference, claims, spins, {Motion::displacement, Motion::displacement}, record);
  }
};

const RigFinding& finding_at(const Qualification& result, RigPlace place) {
  const auto is_it = [&](const RigFinding& finding) { return finding.place == place; };
  const auto found = std::find_if(result.findings.begin(), result.findings.end(), is_it);
  REQUIRE(found != result.findings.end());
  return *found;
}

RigVerdict verdict_at(const Qualification& result, RigPlace place) {
  return finding_at(result, place).verdict;
}

}  // namespace

TEST_CASE("34 spins of a rig that repeats to the last digit: its coefficients, no scatter, the adapters' share") {
  const PencilRig pencil;
  const auto spins = pencil.spins();
  REQUIRE(spins.size() == 34);
  const Qualification result = pencil.judged(spins);
  CHECK(result.passed);
  CHECK((result.coefficients - pencil.alpha).norm() < exact * pencil.alpha.norm());
  CHECK(result.reduction == Approx(1.0).epsilon(exact));
  for (const std::size_t p : {0U, 1U}) {
    CHECK(result.small_over_mean[p].size() == 12);
    for (const double part : result.small_over_mean[p]) CHECK(part == Approx(1.0).epsilon(exact));
    CHECK(result.umar_kg_m[p] < exact * pencil.claims.umar_kg_m);
    CHECK(std::abs(result.adapters_kg_m[p] - pencil.of_adapters(static_cast<Eigen::Index>(p))) < exact * 1e-4);
  }
  CHECK(finding_at(result, RigPlace::speed).measured < exact);             // the square of the speed: stiff pedestals
  CHECK(verdict_at(result, RigPlace::sensors) == RigVerdict::not_judged);  // the first one is the record
  CHECK(verdict_at(result, RigPlace::adapters) == RigVerdict::passed);
}

TEST_CASE("the effect of speed is what lies beyond soft and beyond stiff pedestals") {
  // Displacement of a pedestal far above its resonance does not change with the speed, far below it grows with the
  // square (rotating unbalance, any vibrations textbook); near it, more than that.
  PencilRig pencil;
  const auto shown_with = [&](double power) {
    pencil.power = power;
    return finding_at(pencil.judged(pencil.spins()), RigPlace::speed);
  };
  for (const double power : {0.0, 0.7, 2.0}) CHECK(shown_with(power).measured < exact);
  CHECK(shown_with(3.0).measured == Approx(0.1).epsilon(exact));  // 1.1 and 0.9
  CHECK(shown_with(-1.0).measured == Approx(1.0 / 0.9 - 1.0).epsilon(exact));
  CHECK(shown_with(2.9).verdict == RigVerdict::passed);
  CHECK(shown_with(3.1).verdict == RigVerdict::failed);
  pencil.power = 2.0;
  auto spins = pencil.spins();
  const std::size_t with_masses_at_110 = 29;
  spins[with_masses_at_110].fitted.emplace();  // none was on
  spins[with_masses_at_110].vectors = spins[with_masses_at_110 - 1].vectors;
  CHECK(verdict_at(pencil.judged(spins), RigPlace::speed) == RigVerdict::failed);
}

TEST_CASE(
    "against the record a sensor that reads a fifth more fails as a sensor, and one that hears the other as a "
    "separation") {
  PencilRig pencil;
  const Eigen::Matrix2cd record = pencil.alpha;
  pencil.alpha.row(0) *= 1.2;
  Qualification result = pencil.judged(pencil.spins(), record);
  CHECK_FALSE(result.passed);
  CHECK(verdict_at(result, RigPlace::sensors) == RigVerdict::failed);
  CHECK(verdict_at(result, RigPlace::separation) == RigVerdict::passed);
  pencil.alpha = record;
  pencil.alpha.row(1) += 0.1 * record.row(0);
  result = pencil.judged(pencil.spins(), record);
  CHECK(verdict_at(result, RigPlace::sensors) == RigVerdict::passed);
  CHECK(verdict_at(result, RigPlace::separation) == RigVerdict::failed);
}

TEST_CASE(
    "two of twelve readings of the small mass beyond 12 % fail, and nothing else is then judged; one is let pass") {
  const PencilRig pencil;
  auto spins = pencil.spins();
  const auto disturb = [&](std::size_t k) {
    const PlannedRigSpin planned = qualification_plan(pencil.reference, pencil.claims)[k];
    Eigen::Vector2cd more = Eigen::Vector2cd::Zero();
    for (const FittedWeight& mass : planned.fitted) more(mass.plane) += 0.3 * mass.unbalance_kg_m();
    more = pencil.alpha * more;
    for (const std::size_t s : {0U, 1U}) spins[k].vectors[s] += more(static_cast<Eigen::Index>(s));
  };
  disturb(3);
  CHECK(verdict_at(pencil.judged(spins), RigPlace::smallest_residual) == RigVerdict::passed);
  disturb(9);
  const Qualification result = pencil.judged(spins);
  CHECK(verdict_at(result, RigPlace::smallest_residual) == RigVerdict::failed);
  CHECK(verdict_at(result, RigPlace::reduction) == RigVerdict::not_judged);
  CHECK_FALSE(result.passed);
}

TEST_CASE("spins that are missing, and test masses that were not on, are refused") {
  const PencilRig pencil;
  auto spins = pencil.spins();
  const RigSpin bare = spins.front();
  spins[2] = bare;
  CHECK(code_of([&] { pencil.judged(spins); }) == "planes_alike");
  spins.pop_back();
  CHECK(code_of([&] { pencil.judged(spins); }) == "spins_missing");
}
