// The rig's qualification on the simulated rig: one fault at a time, and each shows in its own place.
#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "counterspot/rig/qualification.hpp"
#include "counterspot/units/error.hpp"
#include "faulty_rig.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

std::vector<RigPlace> failed_places(const Qualification& result) {
  std::vector<RigPlace> places;
  for (const RigFinding& finding : result.findings) {
    fmt::print("  {}: {} {:.3f} of {:.3f}\n", rig_place_name(finding.place), static_cast<int>(finding.verdict),
               finding.measured, finding.allowed);
    if (finding.verdict == RigVerdict::failed) places.push_back(finding.place);
  }
  return places;
}

Qualification qualified(FaultyRig faulty, const std::optional<Eigen::Matrix2cd>& record) {
  std::vector<RigSpin> spins;
  for (const PlannedRigSpin& planned : qualification_plan(faulty.reference, faulty.claims))
    spins.push_back(faulty.spin(planned));
  return qualify(faulty.rig, faulty.reference, faulty.claims, spins, {Motion::acceleration, Motion::acceleration},
                 record);
}

}  // namespace

TEST_CASE("a healthy rig qualifies; a planted fault fails in its own place and nowhere else") {
  const Qualification first = qualified(FaultyRig({}), {});
  CHECK(failed_places(first).empty());
  REQUIRE(first.passed);
  CHECK(first.reduction > 0.95);
  const Eigen::Matrix2cd record = first.coefficients;
  std::uint64_t seed = 78;  // other noise than when the record was made
  CHECK(qualified(FaultyRig({}, seed++), record).passed);
  const std::vector<std::pair<Fault, RigPlace>> faults = {
      {{.pedestal = 0.17}, RigPlace::speed},  // 33 Hz, and balancing is at 27 Hz
      {{.loose_sensor = 0.3}, RigPlace::smallest_residual},
      {{.sensitivity = 0.8}, RigPlace::sensors},
      {{.cross_talk = 0.2}, RigPlace::separation},
      {{.worn_adapter_umar = 4.0}, RigPlace::adapters}};
  for (const auto& [fault, place] : faults) {
    fmt::print("planted: {}\n", rig_place_name(place));
    const Qualification result = qualified(FaultyRig(fault, seed++), record);
    CHECK_FALSE(result.passed);
    CHECK(failed_places(result) == std::vector<RigPlace>{place});
  }
}

TEST_CASE(
    "soft and hard rigs pass by what is usually claimed; a pedestal near resonance does not, whatever the noise") {
  for (std::uint64_t seed = 100; seed < 120; ++seed) {
    for (const double stiffness : {soft_pedestals, hard_pedestals}) {
      CAPTURE(seed, stiffness);
      CHECK(qualified(FaultyRig({}, seed, stiffness), {}).passed);
      // Balancing is at 27 Hz: a soft pedestal stiffened to 17 Hz, a hard one softened to 40 Hz.
      const Fault near{.pedestal = stiffness == soft_pedestals ? 4.0 : 0.25};
      CHECK(failed_places(qualified(FaultyRig(near, seed, stiffness), {})) == std::vector<RigPlace>{RigPlace::speed});
    }
  }
}

TEST_CASE("a qualification is not judged before all its spins are made") {
  FaultyRig bench({});
  CHECK_THROWS_AS(qualify(bench.rig, bench.reference, bench.claims, {}, {}, {}), Error);
}
