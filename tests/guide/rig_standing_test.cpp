// How a rig stands, folded from its works in the log. Its readings a pencil gives, Z = (Ω/Ω_0)²·α·U; what is to come of
// it is what was done to α, at the times that stand here.
#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <catch2/catch.hpp>

#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/units/angle.hpp"
#include "demo_files.hpp"
#include "error_code.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";
constexpr std::int64_t day_s = 86400;
constexpr std::int64_t opened = 1'764'072'000;
constexpr std::int64_t every_s = 90 * day_s;  // as the rig file has it

class PencilRig {
 public:
  PencilRig() : log_(Log::open((folder_ / "log.db").string(), true)) {
    alpha_ << Phasor(2.0, 0.5), Phasor(0.3, -0.1), Phasor(0.4, 0.2), Phasor(1.5, -1.0);
  }

  RigWork begin(RigTask task, std::int64_t at) {
    const std::string rig =
        rig_toml({.sensitivity = "8 mV/um"}) + "[qualification]\nsmallest_residual = \"20 g·mm\"\nevery = \"90 d\"\n";
    return open_rig_work(log_, task, {"rig.toml", rig, "shaft.toml", shaft_toml(), program, at});
  }
  /// The next spin of a work, as its step asks for it.
  RigWork spin(const RigWork& work, std::int64_t at) {
    const RigStep step = next_step(work);
    return keep_rig_spin(log_, work, spun(step.spin), std::nullopt, program, at);
  }
  /// All spins of a work.
  RigWork done(RigTask task, std::int64_t at) {
    RigWork work = begin(task, at);
    while (state_of(work).open && !state_of(work).complete()) work = spin(work, at);
    return work;
  }

  void change_sensor_a(double by) { alpha_.row(0) *= by; }
  Log& log() { return log_; }
  RigStanding standing(std::int64_t now) const { return standing_of(log_, rig(), now); }
  std::vector<Warning> noticed() const { return knowledge_of_rig(log_, rig().name).noticed; }
  Rig rig() const { return newest_rig_work(log_, "bay 2")->rig(); }

 private:
  Spun spun(const PlannedRigSpin& planned) {
    Eigen::Vector2cd unbalance(Phasor(3e-4, 1e-4), Phasor(-1e-4, 2e-4));
    unbalance += std::polar(1.0, -planned.turned_rad) * Eigen::Vector2cd(Phasor(2e-5, 0.0), Phasor(0.0, 3e-5));
    for (const FittedWeight& mass : planned.fitted) unbalance(mass.plane) += mass.unbalance_kg_m();
    const Eigen::Vector2cd z = planned.speed_fraction * planned.speed_fraction * alpha_ * unbalance;
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = 150.0 * planned.speed_fraction;
    spun.sha256 = fmt::format("{:064x}", ++recordings_);
    const Eigen::Matrix2d sure = 1e-18 * Eigen::Matrix2d::Identity();
    spun.readings = {{"A", Motion::displacement, z(0), sure}, {"B", Motion::displacement, z(1), sure}};
    return spun;
  }

  TemporaryFolder folder_;
  Log log_;
  Eigen::Matrix2cd alpha_;
  int recordings_ = 0;
};

}  // namespace

TEST_CASE("a rig that was never proved stands as nothing, and nothing is said against it") {
  PencilRig pencil;
  const RigWork work = pencil.begin(RigTask::qualification, opened);
  const RigStanding standing = standing_of(pencil.log(), work.rig(), opened + 1000 * day_s);
  CHECK_FALSE(standing.qualified_unix_s);
  CHECK_FALSE(standing.due_unix_s);
  CHECK_FALSE(standing.overdue);
  CHECK(standing.sound_unix_s() == 0);
  CHECK_FALSE(qualification_due(pencil.log(), work.rig(), opened + 1000 * day_s));
  CHECK(pencil.noticed().empty());
}

TEST_CASE("a rig that passed stands so until the time its file says is over, and is then said to be due") {
  PencilRig pencil;
  const RigWork work = pencil.done(RigTask::qualification, opened + 60);
  REQUIRE_FALSE(state_of(work).open);
  const RigStanding on_the_day = pencil.standing(opened + 60 + every_s);
  CHECK(on_the_day.qualified_unix_s == opened + 60);
  CHECK(on_the_day.due_unix_s == opened + 60 + every_s);
  CHECK_FALSE(on_the_day.overdue);
  CHECK_FALSE(on_the_day.last_failed);
  CHECK(on_the_day.sound_unix_s() == opened + 60);
  CHECK_FALSE(qualification_due(pencil.log(), pencil.rig(), opened + 60 + every_s));
  CHECK(pencil.standing(opened + 61 + every_s).overdue);
  const auto due = qualification_due(pencil.log(), pencil.rig(), opened + 61 + every_s);
  REQUIRE(due);
  CHECK(due->code == WarningCode::qualification_due);
  CHECK(due->message == "the qualification of rig bay 2 was due on 2026-02-23");  // 90 days after 2025-11-25
}

TEST_CASE("a check that failed speaks against the rig until a later check is within") {
  PencilRig pencil;
  pencil.done(RigTask::qualification, opened);
  pencil.done(RigTask::check, opened + day_s);
  CHECK(pencil.standing(opened + day_s).check_within == true);
  CHECK(pencil.noticed().empty());
  pencil.change_sensor_a(1.2);  // [qualification] sensor_change is 10 % where nothing is written
  pencil.done(RigTask::check, opened + 2 * day_s);
  RigStanding standing = pencil.standing(opened + 2 * day_s);
  CHECK(standing.checked_unix_s == opened + 2 * day_s);
  CHECK(standing.check_within == false);
  CHECK(standing.check_speaks_against());
  CHECK(standing.sound_unix_s() == opened);
  REQUIRE(pencil.noticed().size() == 1);
  CHECK(pencil.noticed()[0].code == WarningCode::qualification_failed);
  CHECK(pencil.noticed()[0].message == "rig bay 2 was outside its band at its last daily check");
  SECTION("a later one within") {
    pencil.change_sensor_a(1.0 / 1.2);
    pencil.done(RigTask::check, opened + 3 * day_s);
    standing = pencil.standing(opened + 3 * day_s);
    CHECK_FALSE(standing.check_speaks_against());
    CHECK(standing.sound_unix_s() == opened + 3 * day_s);
    CHECK(pencil.noticed().empty());
  }
  SECTION("one that was begun and ended without its spins changes nothing") {
    const RigWork work = pencil.begin(RigTask::check, opened + 3 * day_s);
    append(pencil.log(), work, {RigClosed{"the power went", {}}}, program, opened + 3 * day_s);
    CHECK(pencil.standing(opened + 3 * day_s).checked_unix_s == opened + 2 * day_s);
    CHECK(pencil.noticed().size() == 1);
  }
}

TEST_CASE("of a rig that passed and then failed the last word counts, and the day it is due stays that of the pass") {
  PencilRig pencil;
  pencil.done(RigTask::qualification, opened);
  pencil.change_sensor_a(1.2);
  pencil.done(RigTask::qualification, opened + 10 * day_s);
  const RigStanding standing = pencil.standing(opened + 200 * day_s);
  CHECK(standing.last_failed);
  CHECK(standing.failed_places == std::vector<RigPlace>{RigPlace::sensors});
  CHECK(standing.qualified_unix_s == opened);
  CHECK(standing.overdue);
  CHECK_FALSE(qualification_due(pencil.log(), pencil.rig(), opened + 200 * day_s));  // said as a failure instead
  REQUIRE(pencil.noticed().size() == 1);
  CHECK(pencil.noticed()[0].message == "rig bay 2 did not pass its last qualification");
}

TEST_CASE("knocks that failed speak against the rig until a reference shaft shows it to be sound") {
  PencilRig pencil;
  pencil.done(RigTask::qualification, opened);
  TapCheck knocks;
  knocks.against = {{"sensor A is turned over", "Aufnehmer A ist umgepolt"}};
  keep_taps(pencil.log(), "bay 2", knocks, program, opened + day_s);
  CHECK(pencil.standing(opened + day_s).taps_speak_against());
  REQUIRE(pencil.noticed().size() == 1);
  CHECK(pencil.noticed()[0].message == "rig bay 2 is not as it was, by knocks: sensor A is turned over");
  pencil.done(RigTask::check, opened + 2 * day_s);
  CHECK_FALSE(pencil.standing(opened + 2 * day_s).taps_speak_against());
  CHECK(pencil.noticed().empty());
}

TEST_CASE("the last spin of a work on a rig is taken back with a reason, and asked for again") {
  PencilRig pencil;
  RigWork work = pencil.begin(RigTask::qualification, opened);
  const RigWork nothing_yet = work;
  CHECK(code_of([&] { take_back_rig_spin(pencil.log(), nothing_yet, "wrong", program, opened); }) ==
        "nothing_to_take_back");
  work = pencil.spin(pencil.spin(work, opened), opened);
  CHECK(next_step(work).number == 3);
  CHECK(code_of([&] { take_back_rig_spin(pencil.log(), work, "", program, opened); }) == "no_reason");
  work = take_back_rig_spin(pencil.log(), work, "the cable was off", program, opened);
  CHECK(next_step(work).number == 2);
  CHECK(work.events.size() == 3);  // nothing is erased
}

TEST_CASE("before a spin of a rig what is on and wanted stays, the rest comes off, and what is stated is held to it") {
  PencilRig pencil;
  RigWork work = pencil.begin(RigTask::qualification, opened);
  std::size_t moves = 0;
  for (int spins = 0; spins < 15; ++spins) {
    const RigHands hands = hands_before_spin(work);
    const std::vector<FittedWeight> wanted = next_step(work).spin.fitted;
    std::vector<FittedWeight> on = hands.stay;
    on.insert(on.end(), hands.fit.begin(), hands.fit.end());
    CHECK(std::is_permutation(on.begin(), on.end(), wanted.begin(), wanted.end()));
    for (const FittedWeight& off : hands.take_off) CHECK(std::find(wanted.begin(), wanted.end(), off) == wanted.end());
    moves += hands.take_off.size();
    CHECK(code_of([&] { refuse_unlike_planned(work, wanted); }) == "");
    if (!wanted.empty()) {
      CHECK(code_of([&] { refuse_unlike_planned(work, {}); }) == "unlike_asked");
      std::vector<FittedWeight> heavier = wanted;
      heavier.front().mass_kg *= 1.3;  // more than a fifth beside what was asked for
      CHECK(code_of([&] { refuse_unlike_planned(work, heavier); }) == "unlike_asked");
      heavier.front().mass_kg = 1.1 * wanted.front().mass_kg;
      CHECK(code_of([&] { refuse_unlike_planned(work, heavier); }) == "");
    }
    work = pencil.spin(work, opened);
  }
  CHECK(moves > 5);
}
