#include "counterspot/tolerance/tolerance.hpp"

#include <rapidcheck.h>

#include <catch2/catch.hpp>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"

using namespace counterspot;

namespace {

double g_mm(double unbalance_kg_m) {
  return unbalance_kg_m / kg_m_per_g_mm;
}

Shaft standards_rotor() {
  Shaft shaft;
  shaft.id = "PS-1";
  shaft.mass_kg = 3600.0;
  shaft.service_speed_rad_s = rad_per_s(3000.0);
  shaft.grade = "G2.5";
  shaft.supports = Supports{0.0, 2.4, 1.5};
  shaft.planes = {{"A", 0.0, 0.1}, {"B", 2.4, 0.1}};
  return shaft;
}

Shaft drive_shaft(double center_of_mass_m) {
  Shaft shaft = standards_rotor();
  shaft.mass_kg = 14.6;
  shaft.service_speed_rad_s = rad_per_s(3200.0);
  shaft.grade = "G16";
  shaft.supports = Supports{0.0, 1.5, center_of_mass_m};
  shaft.planes = {{"A", 0.07, 0.039}, {"B", 1.43, 0.039}};
  return shaft;
}

}  // namespace

// ISO 21940-11:2016 (was ISO 1940-1:2003), the worked example: 3 600 kg, 3 000 rpm, G 2.5, centre of mass 1 500 mm from
// A and 900 mm from B. Printed there (from memory, recomputed): 28.6e3 g·mm; 10.7e3 g·mm at A, 17.9e3 g·mm at B.
TEST_CASE("the standard's example gets the standard's limits") {
  Limits limits = limits_of(standards_rotor());
  CHECK(g_mm(*limits.total_kg_m) == Approx(28647.9).margin(0.05));
  CHECK(g_mm(limits.planes[0].limit_kg_m) == Approx(10743.0).margin(0.05));
  CHECK(g_mm(limits.planes[1].limit_kg_m) == Approx(17904.9).margin(0.05));
  CHECK(limits.supports.size() == 2);
}

// ISO 21940-11:2016, Table 1 (from memory).
TEST_CASE("the grades are those of the standard and no others") {
  for (const char* grade :
       {"G0.4", "G1", "G2.5", "G6.3", "G16", "G40", "G100", "G250", "G630", "G1600", "G4000", "G 6.3", "16"}) {
    CAPTURE(grade);
    CHECK(grade_m_s(grade) > 0.0);
  }
  CHECK(grade_m_s("G16") == Approx(0.016));
  for (const char* grade : {"G17", "", "G", "Gsixteen", "G16x", "G-16"}) {
    CAPTURE(grade);
    CHECK_THROWS_AS(grade_m_s(grade), Error);
  }
}

TEST_CASE("a share stays within 0.3 and 0.7 and says so") {
  Limits limits = limits_of(drive_shaft(1.4));
  CHECK(limits.planes[0].limit_kg_m / *limits.total_kg_m == Approx(0.3));
  CHECK(limits.planes[1].limit_kg_m / *limits.total_kg_m == Approx(0.7));
  REQUIRE(limits.warnings.size() == 1);
  CHECK(limits.warnings[0].code == WarningCode::share_bounded);
  CHECK(limits_of(drive_shaft(0.75)).warnings.empty());
}

TEST_CASE("an overhung rotor gets no automatic share, but typed limits hold") {
  Shaft shaft = drive_shaft(1.6);
  CHECK_THROWS_AS(limits_of(shaft), Error);
  shaft.limits_kg_m = {{"A", 40e-6}, {"B", 30e-6}};
  Limits limits = limits_of(shaft);
  REQUIRE(limits.planes.size() == 2);
  CHECK(limits.planes[1].limit_kg_m == 30e-6);
  CHECK(limits.supports.empty());
}

TEST_CASE(
    "the plane nearer to a support is shown with that support's limit, whichever way round the axis is measured") {
  Shaft shaft = drive_shaft(0.9);
  double limit_at_a = limits_of(shaft).planes[0].limit_kg_m;
  std::swap(shaft.planes[0], shaft.planes[1]);
  CHECK(limits_of(shaft).planes[1].limit_kg_m == limit_at_a);
  Shaft mirrored = drive_shaft(0.9);
  mirrored.supports = Supports{0.0, -1.5, -0.9};
  for (Plane& plane : mirrored.planes) plane.position_m *= -1.0;
  CHECK(limits_of(mirrored).planes[0].limit_kg_m == Approx(limit_at_a));
}

TEST_CASE("the limit is refused where something is missing, and the sentence says what") {
  Shaft shaft = drive_shaft(0.75);
  shaft.mass_kg.reset();
  CHECK_THROWS_WITH(limits_of(shaft), "grade G16 needs a mass, and shaft PS-1 does not give it");
  shaft = drive_shaft(0.75);
  shaft.grade.clear();
  CHECK_THROWS_WITH(limits_of(shaft), "shaft PS-1 has neither a grade nor limits");
  shaft.limits_kg_m = {{"C", 40e-6}};
  CHECK_THROWS_WITH(limits_of(shaft), "there is a limit for plane 'C', which the shaft does not have");
}

TEST_CASE("twice the speed halves the limit and twice the mass doubles it") {
  CHECK(rc::check([] {
    double mass = *rc::gen::inRange(1, 1000) * 0.1;
    double speed = *rc::gen::inRange(1, 1000) * 1.0;
    double limit = permissible_unbalance_kg_m(0.016, mass, speed);
    RC_ASSERT(std::abs(permissible_unbalance_kg_m(0.016, mass, 2 * speed) * 2 - limit) <= 1e-15 * limit);
    RC_ASSERT(std::abs(permissible_unbalance_kg_m(0.016, 2 * mass, speed) / 2 - limit) <= 1e-15 * limit);
  }));
}

// ISO 21940-14 (from memory): accept only if residual + error <= limit, reject only if residual - error > limit.
TEST_CASE("a shaft is within only if the uncertainty fits in too") {
  CHECK(verdict_of(30.0, 5.0, 40.0) == Verdict::within);  // 30 + 2*5 = 40: just within
  CHECK(verdict_of(30.1, 5.0, 40.0) == Verdict::unsure);
  CHECK(verdict_of(50.0, 5.0, 40.0) == Verdict::unsure);  // 50 - 10 = 40: not yet outside
  CHECK(verdict_of(50.1, 5.0, 40.0) == Verdict::outside);
  CHECK(verdict_of(40.0, 0.0, 40.0) == Verdict::within);
  CHECK(verdict_of(std::nan(""), 0.0, 40.0) == Verdict::unsure);
}

TEST_CASE("weights at the planes are carried to the supports as levers carry them") {
  // Pencil: supports at 0 and 1.5 m, plane at 0.07 m: 100 g·mm there is 100·(1.5−0.07)/1.5 = 95.33 at A and 4.667 at B.
  Shaft shaft = drive_shaft(0.75);
  Limits limits = limits_of(shaft);
  Judgement judgement = judge(shaft, limits, {Phasor(100e-6, 0.0), 0.0}, Eigen::Matrix4d::Zero());
  REQUIRE(judgement.held.size() == 4);
  CHECK(g_mm(judgement.held[2].residual_kg_m) == Approx(95.3333).epsilon(1e-5));
  CHECK(g_mm(judgement.held[3].residual_kg_m) == Approx(4.66667).epsilon(1e-5));
  CHECK(judgement.verdict == Verdict::within);
}

TEST_CASE("one place outside its limit makes the shaft outside") {
  Shaft shaft = drive_shaft(0.75);
  Judgement judgement = judge(shaft, limits_of(shaft), {0.0, Phasor(0.0, 1.0)}, Eigen::Matrix4d::Zero());
  CHECK(judgement.verdict == Verdict::outside);
  CHECK(judgement.held[0].verdict == Verdict::within);
}

TEST_CASE("typed limits that leave a plane out never say within, and still say outside") {
  Shaft shaft = drive_shaft(0.75);
  shaft.limits_kg_m = {{"A", 40e-6}};
  const Limits limits = limits_of(shaft);
  CHECK(limits.without == std::vector<std::string>{"B"});
  REQUIRE(limits.warnings.size() == 1);
  CHECK(limits.warnings[0].code == WarningCode::limit_missing);
  CHECK(judge(shaft, limits, {1e-6, 1e-6}, Eigen::Matrix4d::Zero()).verdict == Verdict::unsure);
  CHECK(judge(shaft, limits, {50e-6, 1e-6}, Eigen::Matrix4d::Zero()).verdict == Verdict::outside);
}

TEST_CASE(
    "the uncertainty of a size is taken along the vector, and in the worst direction when the vector is lost in it") {
  Eigen::Matrix2d covariance;
  covariance << 4.0, 0.0, 0.0, 1.0;
  CHECK(u_of_magnitude(Phasor(10.0, 0.0), covariance) == Approx(2.0));
  CHECK(u_of_magnitude(Phasor(0.0, 10.0), covariance) == Approx(1.0));
  CHECK(u_of_magnitude(Phasor(0.0, 1.5), covariance) == Approx(2.0));
  CHECK(u_of_magnitude(0.0, covariance) == Approx(2.0));
}

TEST_CASE("what speaks against the readings turns within into unsure, and leaves outside and unsure alone") {
  const Warnings doubt = {{WarningCode::clipped, "A", "a knock"}, {WarningCode::loose_cable, "A", "the signal steps"}};
  const Shaft shaft = standards_rotor();
  const Limits limits = limits_of(shaft);
  const Eigen::MatrixXd covariance = 1e-18 * Eigen::MatrixXd::Identity(4, 4);
  for (const double share : {0.1, 10.0}) {
    const std::vector<Phasor> residual(2, share * limits.planes[0].limit_kg_m);
    Judgement judgement = judge(shaft, limits, residual, covariance);
    const Verdict before = judgement.verdict;
    hold_back(judgement, {doubt[0]});  // a clipped knock changes little, and is only said
    CHECK(judgement.verdict == before);
    CHECK(judgement.held_back.empty());
    hold_back(judgement, doubt);
    CHECK(judgement.verdict == (before == Verdict::within ? Verdict::unsure : before));
    REQUIRE(judgement.held_back.size() == 1);
    CHECK(judgement.held_back[0].code == WarningCode::loose_cable);
    hold_also(judgement, at_mode(1), 0.0, Eigen::Matrix2d::Zero(),
              1.0);  // a place that is well does not lift the doubt
    CHECK(judgement.verdict != Verdict::within);
  }
}

TEST_CASE("a share may be typed from 0.3 to 0.7, the bounds among them, and nothing beside") {
  const Shaft shaft = drive_shaft(0.75);
  for (const double share : {0.3, 0.45, 0.7}) {
    CAPTURE(share);
    const Limits limits = limits_of(shaft, share);
    CHECK(limits.planes[0].limit_kg_m == Approx(share * *limits.total_kg_m));
    CHECK(limits.planes[1].limit_kg_m == Approx((1.0 - share) * *limits.total_kg_m));
  }
  for (const double share : {0.29, 0.0, -0.3, 0.71, std::nan("")}) {
    CAPTURE(share);
    CHECK_THROWS_WITH(limits_of(shaft, share), Catch::Contains("outside 0.3 to 0.7"));
  }
}

// Two pieces of 1 m and 2 m that meet at a middle support: each weighs as its length and rests on its ends alike
// (common practice, no source).
TEST_CASE("with a support in the middle each end of a piece holds half of the piece's part of the limit") {
  Shaft shaft = drive_shaft(1.5);
  shaft.supports = Supports{0.0, 3.0, 1.5, 1.0};
  shaft.planes = {{"A", 0.25, 0.039}, {"M", 1.4, 0.039}, {"B", 2.5, 0.039}};
  const Limits limits = limits_of(shaft);
  REQUIRE(limits.supports.size() == 3);
  const double total = *limits.total_kg_m;
  for (const SupportLimit& limit : limits.supports) {
    CAPTURE(support_name(limit.support));
    const double share = limit.support == Support::a ? 1.0 / 6.0 : limit.support == Support::c ? 1.0 / 2.0 : 1.0 / 3.0;
    CHECK(limit.limit_kg_m == Approx(share * total));
  }
}

TEST_CASE("the verdict holds at a middle support what both its neighbours' weights make there") {
  Shaft shaft = drive_shaft(1.5);
  shaft.supports = Supports{0.0, 3.0, 1.5, 1.0};
  shaft.planes = {{"A", 0.25, 0.039}, {"M", 1.4, 0.039}, {"B", 2.5, 0.039}};
  // 100 g·mm at 0.25 m and 100 at 2.5 m, both one way: 25 of each on C.
  const Judgement judgement =
      judge(shaft, limits_of(shaft), {Phasor(100e-6, 0.0), 0.0, Phasor(100e-6, 0.0)}, Eigen::MatrixXd::Zero(6, 6));
  const auto middle = std::find_if(judgement.held.begin(), judgement.held.end(),
                                   [](const Held& held) { return held.place == at_support(Support::c); });
  REQUIRE(middle != judgement.held.end());
  CHECK(g_mm(middle->residual_kg_m) == Approx(50.0));
}
