// The works on a rig, of readings that a pencil gives, Z = α·U: what a daily check and a recalibration come to is what
// was done to α and U, and what cannot be an entry is refused.
#include "counterspot/rig/rig_work.hpp"

#include <Eigen/Core>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>

#include "counterspot/units/angle.hpp"
#include "demo_files.hpp"
#include "error_code.hpp"

using namespace counterspot;
using counterspot::test::code_of;

namespace {

constexpr double exact = 1e-9;       // relative: linear algebra on well-conditioned numbers
constexpr double umar_kg_m = 20e-6;  // as the rig file claims
constexpr double recorded_rad_s = 150.0;

struct PencilWork {
  RigWork work;
  Eigen::Matrix2cd alpha;
  Eigen::Vector2cd on_shaft{Phasor(3e-4, 1e-4), Phasor(-1e-4, 2e-4)};

  explicit PencilWork(RigTask task) {
    alpha << Phasor(2.0, 0.5), Phasor(0.3, -0.1), Phasor(0.4, 0.2), Phasor(1.5, -1.0);
    work.task = task;
    work.rig_file = {"rig.toml",
                     test::rig_toml({.sensitivity = "8 mV/um"}) + "[qualification]\nsmallest_residual = \"20 g·mm\"\n"};
    work.shaft_file = {"shaft.toml", test::shaft_toml()};
    const Eigen::Vector2cd bare = alpha * on_shaft;
    work.yardstick = RigYardstick{work.shaft().id,
                                  1000,
                                  recorded_rad_s,
                                  {Motion::displacement, Motion::displacement},
                                  alpha,
                                  {bare(0), bare(1)},
                                  {},
                                  0.0,
                                  {}};
  }

  RigSpun asked_for() const {
    const RigWorkState state = state_of(work);
    Eigen::Vector2cd unbalance = on_shaft;
    for (const FittedWeight& mass : state.plan.at(static_cast<std::size_t>(state.next)).fitted)
      unbalance(mass.plane) += mass.unbalance_kg_m();
    const Eigen::Vector2cd z = alpha * unbalance;
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = recorded_rad_s;
    const Eigen::Matrix2d none = Eigen::Matrix2d::Zero();
    spun.readings = {{"A", Motion::displacement, z(0), none}, {"B", Motion::displacement, z(1), none}};
    return {state.next, spun, std::nullopt};
  }
  void enter(const RigWhat& what) {
    admit(work, what);
    work.events.push_back({static_cast<int>(work.events.size()) + 1, 2000, "counterspot 0.1.0", what});
  }
  RigResult result() {
    while (!state_of(work).complete()) enter(asked_for());
    return result_of(work);
  }
};

}  // namespace

TEST_CASE("the known masses of checks and recalibrations are 50 times what the rig claims to reach") {
  const PencilWork pencil(RigTask::recalibration);
  const auto check = plan_of(RigTask::check, pencil.work.rig(), pencil.work.shaft());
  REQUIRE(check.size() == 2);
  CHECK(check[0].fitted.empty());
  REQUIRE(check[1].fitted.size() == 2);
  const auto recalibration = plan_of(RigTask::recalibration, pencil.work.rig(), pencil.work.shaft());
  REQUIRE(recalibration.size() == 3);
  for (const PlannedRigSpin& spin : {check[1], recalibration[1], recalibration[2]})
    for (const FittedWeight& mass : spin.fitted)
      CHECK(std::abs(mass.unbalance_kg_m()) == Approx(50.0 * umar_kg_m).epsilon(exact));
}

TEST_CASE("a rig that reads as it did is within at its daily check, to the last digit") {
  const auto check = std::get<RigCheck>(PencilWork(RigTask::check).result());
  CHECK(check.within);
  for (const std::size_t s : {0U, 1U}) {
    CHECK(std::abs(check.change[s] - 1.0) < exact);
    CHECK(std::abs(check.moved_kg_m[s]) < exact * umar_kg_m);
  }
}

TEST_CASE("at the daily check a sensor is out by what it reads more, and a shaft that moved by where it went") {
  PencilWork louder(RigTask::check);
  louder.alpha.row(1) *= 1.2;  // more than the 10 % that a rig may change by where nothing else is written
  const auto by_sensor = std::get<RigCheck>(louder.result());
  CHECK_FALSE(by_sensor.within);
  CHECK(std::abs(by_sensor.change[0] - 1.0) < exact);
  CHECK(std::abs(by_sensor.change[1] - 1.2) < exact);

  PencilWork moved(RigTask::check);
  moved.on_shaft(0) += 1.5 * umar_kg_m;  // what it may lie beside is Umar, mountings of this yardstick being alike
  const auto by_shaft = std::get<RigCheck>(moved.result());
  CHECK_FALSE(by_shaft.within);
  CHECK(std::abs(by_shaft.change[0] - 1.0) < exact);
  CHECK(std::abs(by_shaft.moved_kg_m[0] - 1.5 * umar_kg_m) < exact);
  CHECK(std::abs(by_shaft.moved_kg_m[1]) < exact);

  PencilWork hardly(RigTask::check);
  hardly.on_shaft(0) += 0.9 * umar_kg_m;
  CHECK(std::get<RigCheck>(hardly.result()).within);
}

TEST_CASE("a recalibration finds what each sensor gives now, and blames no sensitivity for what is not one") {
  PencilWork pencil(RigTask::recalibration);
  const double stated = pencil.work.rig().sensors[0].sensitivity.volts_per_si;
  SECTION("one gives a quarter less") {
    pencil.alpha.row(0) *= 0.75;
    const auto found = std::get<Recalibration>(pencil.result());
    CHECK(found.sound);
    CHECK(found.volts_per_si[0] == Approx(0.75 * stated).epsilon(exact));
    CHECK(found.volts_per_si[1] == Approx(stated).epsilon(exact));
    CHECK(found.cross_talk < exact);
  }
  SECTION("one hears the other") {
    pencil.alpha.row(0) += 0.2 * pencil.alpha.row(1);
    const auto found = std::get<Recalibration>(pencil.result());
    CHECK_FALSE(found.sound);
    CHECK(found.cross_talk == Approx(0.2).epsilon(exact));
  }
  SECTION("one is turned over") {
    pencil.alpha.row(1) *= -1.0;
    CHECK_FALSE(std::get<Recalibration>(pencil.result()).sound);
  }
}

TEST_CASE("a test mass that was really another one is counted as it was") {
  PencilWork pencil(RigTask::check);
  pencil.enter(pencil.asked_for());
  const PlannedRigSpin planned = state_of(pencil.work).plan[1];
  std::vector<FittedWeight> real = planned.fitted;
  real[0].mass_kg *= 1.1;
  RigSpun made = pencil.asked_for();
  const Eigen::Vector2cd more = pencil.alpha.col(real[0].plane) * 0.1 * planned.fitted[0].unbalance_kg_m();
  for (const std::size_t s : {0U, 1U}) made.spun.readings[s].value += more(static_cast<Eigen::Index>(s));
  made.fitted = real;
  pencil.enter(made);
  CHECK(std::get<RigCheck>(pencil.result()).within);
}

TEST_CASE("what cannot be a spin of a work on a rig is refused with its reason, and nothing is entered") {
  PencilWork pencil(RigTask::check);
  const auto refusal = [&](const std::function<void(RigSpun&)>& change) {
    RigSpun made = pencil.asked_for();
    change(made);
    return code_of([&] { pencil.enter(made); });
  };
  const auto first = [](RigSpun& made) -> SensorReading& { return made.spun.readings.front(); };
  CHECK(refusal([](RigSpun& made) { made.spun.readings.pop_back(); }) == "wrong_sensors");
  CHECK(refusal([&](RigSpun& made) { first(made).sensor = "C"; }) == "wrong_sensors");
  CHECK(refusal([&](RigSpun& made) { first(made).value = std::numeric_limits<double>::infinity(); }) == "bad_reading");
  CHECK(refusal([&](RigSpun& made) { first(made).motion = Motion::velocity; }) == "mixed_motion");
  CHECK(refusal([](RigSpun& made) { made.spun.speed_rad_s = std::nullopt; }) == "no_speed");
  CHECK(refusal([](RigSpun& made) { made.spun.speed_rad_s = 1.026 * recorded_rad_s; }) == "wrong_speed");  // 2.5 %
  CHECK(refusal([](RigSpun& made) { made.fitted = {{2, 0.01, 0.04, 0.0}}; }) == "bad_piece");
  CHECK(refusal([](RigSpun& made) { made.fitted = {{0, 0.0, 0.04, 0.0}}; }) == "bad_piece");
  CHECK(refusal([](RigSpun& made) { made.step = 1; }) == "rig_work_closed");
  CHECK(pencil.work.events.empty());
  CHECK(refusal([](RigSpun& made) { made.spun.speed_rad_s = 1.024 * recorded_rad_s; }) == "");
}

TEST_CASE("a work on a rig ends early for a reason only, and asks for nothing more") {
  PencilWork pencil(RigTask::check);
  CHECK(code_of([&] { pencil.enter(TakenBack{1, "wrong shaft"}); }) == "nothing_to_take_back");
  CHECK(code_of([&] { pencil.enter(RigClosed{"", {}}); }) == "no_reason");
  pencil.enter(pencil.asked_for());
  CHECK(code_of([&] { pencil.enter(TakenBack{1, ""}); }) == "no_reason");
  pencil.enter(TakenBack{1, "wrong shaft"});
  CHECK(state_of(pencil.work).next == 0);
  pencil.enter(RigClosed{"the drive is broken", {}});
  CHECK_FALSE(state_of(pencil.work).open);
  CHECK(code_of([&] { pencil.enter(RigClosed{"again", {}}); }) == "rig_work_closed");
  CHECK(code_of([&] { pencil.enter(pencil.asked_for()); }) == "rig_work_closed");
  CHECK_FALSE(yardstick_of(pencil.work));
}

TEST_CASE("a rig's file that does not say what it is to reach cannot be worked on") {
  PencilWork pencil(RigTask::check);
  pencil.work.rig_file = {"rig.toml", test::rig_toml()};
  CHECK(code_of([&] { state_of(pencil.work); }) == "no_claims");
}
