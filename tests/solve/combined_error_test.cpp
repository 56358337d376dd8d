// What the rig adds to the uncertainty of a residual, each share by pencil.
#include <algorithm>
#include <catch2/catch.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/solve/solution.hpp"
#include "demo_files.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// A residual whose parts the readings tell to 10 g·mm each, in both planes.
InfluenceSummary told_to_10_gmm() {
  InfluenceSummary influence;
  influence.uncertainty_known = true;
  influence.residual_covariance = 10e-6 * 10e-6 * Eigen::Matrix4d::Identity();
  influence.budget = {{ErrorSource::readings, influence.residual_covariance}};
  return influence;
}

/// With its planes at its supports.
Shaft shaft_held_at_its_planes() {
  Shaft shaft = read_shaft_text(shaft_toml(), "shaft.toml");
  shaft.planes[0].position_m = shaft.supports->a_m;
  shaft.planes[1].position_m = shaft.supports->b_m;
  return shaft;
}

Eigen::MatrixXd in_gmm_squared(const InfluenceSummary& influence, ErrorSource source) {
  const auto at = std::find_if(influence.budget.begin(), influence.budget.end(),
                               [&](const ErrorShare& share) { return share.source == source; });
  REQUIRE(at != influence.budget.end());
  return at->covariance * 1e12;
}

InfluenceSummary with(const RigKnowledge& rig) {
  InfluenceSummary influence = told_to_10_gmm();
  add_rig_errors(influence, rig, shaft_held_at_its_planes(), false);
  CHECK((influence.residual_covariance - told_to_10_gmm().residual_covariance - influence.budget.back().covariance)
            .norm() < 1e-20);
  return influence;
}

}  // namespace

// Umar is twice what readings scatter by (solution.hpp): 100 g·mm are 50 g·mm in each part, of which 10 are the noise
// that is counted already: 50² − 10².
TEST_CASE("what a rig repeats by counts beyond the noise of the readings, once") {
  RigKnowledge rig;
  rig.umar_kg_m = 100e-6;
  const Eigen::MatrixXd share = in_gmm_squared(with(rig), ErrorSource::rig);
  for (Eigen::Index i = 0; i < 4; ++i) CHECK(share(i, i) == Approx(2400.0));
  rig.umar_kg_m = 10e-6;  // less than the readings' own
  CHECK(in_gmm_squared(with(rig), ErrorSource::rig).isZero(0.0));
}

TEST_CASE("from one mounting to the next both planes differ alike") {
  RigKnowledge rig;
  rig.remount_kg_m = 7e-6;
  const Eigen::MatrixXd share = in_gmm_squared(with(rig), ErrorSource::mounting);
  CHECK((share - 49.0 * Eigen::Matrix4d::Identity()).norm() < 1e-9);
}

// 30 g·mm at support A, 5 of them unsure: in an unknown direction either part has 30/√2 as its root-mean-square.
TEST_CASE("adapters that are not taken away count whole, in whatever direction, with what is unsure of them") {
  RigKnowledge rig;
  rig.adapters = Adapters{{Phasor(0.0, 30e-6), Phasor()}, 5e-6 * 5e-6 * Eigen::Matrix4d::Identity()};
  const Eigen::MatrixXd share = in_gmm_squared(with(rig), ErrorSource::adapters);
  for (Eigen::Index i : {0, 1}) CHECK(share(i, i) == Approx(450.0 + 25.0));
  for (Eigen::Index i : {2, 3}) CHECK(share(i, i) == Approx(25.0));
  CHECK(std::abs(share(0, 1)) < 1e-9);
}
