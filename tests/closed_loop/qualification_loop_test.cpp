// The rig's qualification on the simulated rig: one fault at a time, and each shows in its own place.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

#include "counterspot/error.hpp"
#include "counterspot/files.hpp"
#include "counterspot/qualification.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// What is wrong with the rig.
struct Fault {
  double softer_pedestal = 1.0;    ///< stiffness of pedestal A, of what it was
  double loose_sensor = 0.0;       ///< from spin to spin, of sensor A's reading, one standard deviation
  double sensitivity = 1.0;        ///< of sensor A, of what the rig file says
  double cross_talk = 0.0;         ///< of sensor A in sensor B
  double worn_adapter_umar = 0.0;  ///< at support A from mounting to mounting, one standard deviation of each part
};

struct Bench {
  explicit Bench(const Fault& planted, std::uint64_t seed = 77)
      : scenario(rigsim::marrow_creek()), fault(planted), random(seed, 600) {
    TemporaryFolder folder;
    rig = read_rig(write_file(folder / "rig.toml", rigsim::rig_toml(scenario)));
    reference = read_shaft(write_file(folder / "shaft.toml", rigsim::shaft_toml(scenario)));
    for (auto& slice : scenario.shaft.slices) slice.unbalance_kg_m *= 0.05;        // a reference shaft is balanced
    for (auto& pedestal : scenario.rig.pedestals) pedestal.stiffness_N_m *= 88.0;  // a hard rig: 80 to 100 Hz
    scenario.rig.pedestals[0].stiffness_N_m *= fault.softer_pedestal;
    claims.umar_kg_m = 80e-6;
  }

  RigSpin spin(const PlannedRigSpin& planned, const Phasor& mounted_kg_m) {
    const double speed = scenario.balancing_rad_s * planned.speed_fraction * (1.0 + 0.0002 * random.normal());
    std::vector<rigsim::UnbalanceSlice> extra = {
        {scenario.shaft.support_a_m, mounted_kg_m * std::polar(1.0, -planned.turned_rad)}};
    for (const FittedWeight& piece : planned.fitted)  // test masses sit in drilled holes, as good as exact
      extra.push_back(rigsim::piece_at(scenario.planes[static_cast<std::size_t>(piece.plane)],
                                       piece.mass_kg * (1.0 + 0.002 * random.normal()), piece.angle_rad));
    RigSpin made{rigsim::steady_vectors(scenario.rig, scenario.shaft, extra, speed), {}, speed};
    made.vectors[0] *= fault.sensitivity * (1.0 + fault.loose_sensor * random.normal());
    made.vectors[1] += fault.cross_talk * made.vectors[0];
    for (std::size_t s = 0; s < 2; ++s) {
      const double u = scenario.rig.sensors[s].noise_si_rtHz / 2.0;  // of 4 s
      made.vectors[s] += u * Phasor(random.normal(), random.normal());
      made.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
    }
    return made;
  }

  Qualification qualified(const std::optional<Eigen::Matrix2cd>& record) {
    std::vector<RigSpin> spins;
    const Phasor adapters = 2.0 * claims.umar_kg_m;
    for (const PlannedRigSpin& planned : qualification_plan(reference, claims)) {
      Phasor mounted = adapters;
      if (planned.place == RigPlace::adapters)
        mounted += fault.worn_adapter_umar * claims.umar_kg_m * Phasor(random.normal(), random.normal());
      spins.push_back(spin(planned, mounted));
    }
    return qualify(rig, reference, claims, spins, {Motion::acceleration, Motion::acceleration}, record);
  }

  rigsim::Scenario scenario;
  Fault fault;
  rigsim::Random random;
  Rig rig;
  Shaft reference;
  RigClaims claims;
};

std::vector<RigPlace> failed_places(const Qualification& result) {
  std::vector<RigPlace> places;
  for (const RigFinding& finding : result.findings) {
    fmt::print("  {}: {} {:.3f} of {:.3f}\n", rig_place_name(finding.place), static_cast<int>(finding.verdict),
               finding.measured, finding.allowed);
    if (finding.verdict == RigVerdict::failed) places.push_back(finding.place);
  }
  return places;
}

}  // namespace

TEST_CASE("a healthy rig qualifies; a planted fault fails in its own place and nowhere else") {
  const Qualification first = Bench({}).qualified({});
  CHECK(failed_places(first).empty());
  REQUIRE(first.passed);
  CHECK(first.reduction > 0.95);
  const Eigen::Matrix2cd record = first.coefficients;
  std::uint64_t seed = 78;  // other noise than when the record was made
  CHECK(Bench({}, seed++).qualified(record).passed);
  const std::vector<std::pair<Fault, RigPlace>> faults = {
      {{.softer_pedestal = 0.17}, RigPlace::speed},  // 33 Hz, and balancing is at 27 Hz
      {{.loose_sensor = 0.3}, RigPlace::smallest_residual},
      {{.sensitivity = 0.8}, RigPlace::sensors},
      {{.cross_talk = 0.2}, RigPlace::separation},
      {{.worn_adapter_umar = 4.0}, RigPlace::adapters}};
  for (const auto& [fault, place] : faults) {
    fmt::print("planted: {}\n", rig_place_name(place));
    const Qualification result = Bench(fault, seed++).qualified(record);
    CHECK_FALSE(result.passed);
    CHECK(failed_places(result) == std::vector<RigPlace>{place});
  }
}

TEST_CASE("a qualification is not judged before all its spins are made") {
  Bench bench({});
  CHECK_THROWS_AS(qualify(bench.rig, bench.reference, bench.claims, {}, {}, {}), Error);
}
