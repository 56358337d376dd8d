// What is asked for on a rig is a value, and its words follow from it (`rig next --json` keeps these texts, so they are
// held to the letter).
#include "report/rig_step_words.hpp"

#include <catch2/catch.hpp>

#include "demo_files.hpp"
#include "report/documents.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// A rig that turns clockwise as seen from end B, and what of its qualification is made.
RigWork work_of(RigTask task) {
  std::string rig = rig_toml({"bay 2", "20 mV/(mm/s)", {"A", "B"}});
  rig.replace(rig.find("counter-clockwise"), 17, "clockwise");
  rig.replace(rig.find("viewing_end = \"A\""), 17, "viewing_end = \"B\"");
  RigWork work;
  work.task = task;
  work.rig_file = {"rig.toml", rig + "[qualification]\nsmallest_residual = \"80 g·mm\"\n"};
  work.shaft_file = {"reference.toml", shaft_toml({"REF-1", "grade = \"G16\"", "40 mm"})};
  return work;
}

/// The first spins of the plan, at 1600 rpm and what is planned of it, on a rig whose sensors read nothing at all.
RigWork after(int spins, RigTask task = RigTask::qualification) {
  RigWork work = work_of(task);
  const auto plan = state_of(work).plan;
  for (int k = 0; k < spins; ++k) {
    Spun spun;
    spun.speed_rad_s = rad_per_s(1600.0) * plan[static_cast<std::size_t>(k)].speed_fraction;
    for (const char* sensor : {"A", "B"})
      spun.readings.push_back({sensor, Motion::velocity, 1e-3, 1e-12 * Eigen::Matrix2d::Identity()});
    work.events.push_back({k + 1, 0, "test", RigSpun{k, spun, {}}});
  }
  return work;
}

StepWords said_of(const RigWork& work) {
  return step_words(next_step(work), work);
}

RigWork closed(RigTask task, RigResult result, const std::string& reason = "") {
  RigWork work = work_of(task);
  work.events.push_back({1, 0, "test", RigClosed{reason, std::move(result)}});
  return work;
}

}  // namespace

TEST_CASE("a qualification begins without test masses, at the speed the rig is used at, mark to mark") {
  const RigStep step = next_step(after(0));
  CHECK(step.number == 1);
  CHECK(step.of == 34);
  CHECK(step.mounting == Mounting::mark_to_mark);
  CHECK_FALSE(step.speed_rad_s);
  const StepWords said = said_of(after(0));
  CHECK(said.words == "SPIN the reference shaft without test masses");
  CHECK(said.details ==
        std::vector<std::string>{
            "at the speed you balance at; the spins after it are made at the same",
            "mount it with its mark at the adapters' mark, and leave it so until you are told to turn it"});
}

// 50 Umar of 80 g·mm at 40 mm are 100 g.
TEST_CASE("a test mass is told by weight, place and clock, and where the shaft is to stay") {
  const StepWords said = said_of(after(1));
  CHECK(said.words == "FIT 100.0 g on A at 0 deg, nothing else, and SPIN");
  CHECK(said.details ==
        std::vector<std::string>{"plane A  100.00 g  at 12:00, seen from end B, the mark at 12:00; shaft angle 0 deg, "
                                 "radius 40.0 mm",
                                 "at 1600 rpm", "leave the shaft in its adapters as it is"});
}

TEST_CASE("two masses are told together, each on the clock as seen from the viewing end") {
  const RigWork work = after(4);  // 5 Umar at 30 deg, and a quarter further on in the other plane
  const StepWords said = said_of(work);
  CHECK(said.words == "FIT 10.0 g on A at 30 deg, 10.0 g on B at 120 deg, nothing else, and SPIN");
  // Shaft angles run against the rotation: against the clock, where the shaft turns clockwise.
  CHECK(said.details[0].find("at 11:00, seen from end B") != std::string::npos);
  CHECK(said.details[1].find("at 8:00, seen from end B") != std::string::npos);
}

TEST_CASE("another speed and another mounting are asked for in so many words") {
  const auto plan = state_of(work_of(RigTask::qualification)).plan;
  std::vector<std::string> beside;
  std::vector<std::string> mounted;
  for (int k = 0; k < static_cast<int>(plan.size()); ++k) {
    const RigWork work = after(k);
    const StepWords said = said_of(work);
    if (plan[static_cast<std::size_t>(k)].speed_fraction != 1.0) beside.push_back(said.details.end()[-2]);
    if (next_step(work).mounting == Mounting::again) mounted.push_back(said.words + " | " + said.details.back());
  }
  CHECK(beside == std::vector<std::string>{"at 1440 rpm", "at 1440 rpm", "at 1760 rpm", "at 1760 rpm"});
  REQUIRE(mounted.size() == 4);
  CHECK(mounted[0] ==
        "SPIN the reference shaft without test masses | take the shaft out, and mount it with its mark 0 deg from the "
        "adapters' mark, counted against the rotation");
  CHECK(
      mounted[2] ==
      "SPIN the reference shaft without test masses, turned by 180 deg against its adapters | take the shaft out, and "
      "mount it with its mark 180 deg from the adapters' mark, counted against the rotation");
}

TEST_CASE("of the daily check and of a recalibration nobody is told how to mount the shaft") {
  for (const RigTask task : {RigTask::check, RigTask::recalibration}) {
    CAPTURE(rig_task_name(task));
    CHECK_FALSE(next_step(work_of(task)).mounting);
    CHECK(said_of(work_of(task)).details.size() == 1);
  }
}

TEST_CASE("spins that cannot be judged are told with the reason and what to do") {
  const RigWork work = after(34);  // a mass that changes nothing calibrates nothing
  CHECK(next_step(work).number == 0);
  const StepWords said = said_of(work);
  CHECK(said.words == "All spins are made, and they cannot be judged");
  CHECK(said.details == std::vector<std::string>{"the test masses do not tell the planes apart",
                                                 "check that they were on the shaft, and the cables"});
  CHECK(document_of(work)["place"].is_null());
}

TEST_CASE("each end of a work on a rig has its own words") {
  const auto words = [](RigTask task, RigResult result, const std::string& reason = "") {
    const RigWork work = closed(task, std::move(result), reason);
    CHECK(said_of(work).details.empty());
    CHECK(document_of(work)["open"] == false);
    return said_of(work).words;
  };
  Qualification qualification;
  CHECK(words(RigTask::qualification, qualification) == "The rig IS NOT QUALIFIED");
  qualification.passed = true;
  CHECK(words(RigTask::qualification, qualification) == "The rig IS QUALIFIED");
  RigCheck check;
  CHECK(words(RigTask::check, check) == "The rig is OUTSIDE its band");
  check.within = true;
  CHECK(words(RigTask::check, check) == "The rig is WITHIN its band");
  Recalibration found;
  found.volts_per_si = {1.0, 1.0};
  CHECK(words(RigTask::recalibration, found) == "New sensitivities would not mend this");
  found.sound = true;
  CHECK(words(RigTask::recalibration, found) == "New sensitivities are found");
  CHECK(words(RigTask::check, {}, "a bolt was loose") == "The check was ended: a bolt was loose");
}

TEST_CASE("auf Deutsch: was auf der Auswuchtbank verlangt ist") {
  const auto in_german = [](const RigWork& work) { return step_words(next_step(work), work, german()); };
  const StepWords first = in_german(after(0));
  CHECK(first.words == "MESSLAUF: die Prüfwelle ohne Prüfmassen");
  CHECK(first.details ==
        std::vector<std::string>{
            "bei der Auswuchtdrehzahl; alle weiteren Messläufe bei derselben",
            "mit ihrer Marke an der Marke der Adapter einbauen und so lassen, bis eine Drehung verlangt wird"});
  const StepWords masses = in_german(after(4));
  CHECK(masses.words ==
        "ANBRINGEN: 10,0 g in Ebene A bei 30°, 10,0 g in Ebene B bei 120°, sonst nichts, dann MESSLAUF");
  CHECK(masses.details.front() ==
        "Ebene A: 10,00 g, Uhrstellung 11:00, von Ende B gesehen, Marke auf 12:00; Wellenwinkel 30°, Radius 40,0 mm");
  CHECK(masses.details[2] == "bei 1600 min⁻¹");
  CHECK(in_german(after(26)).words == "MESSLAUF: die Prüfwelle ohne Prüfmassen bei 90 % der Drehzahl");
  CHECK(in_german(after(32)).words == "MESSLAUF: die Prüfwelle ohne Prüfmassen, um 180° gegen ihre Adapter gedreht");
}

TEST_CASE("auf Deutsch: was gefunden wurde, aus den Zahlen, die aufbewahrt sind") {
  const RigFinding loose{RigPlace::smallest_residual, RigVerdict::failed, 0.153, 0.12, "as it was said"};
  const RigFinding apart{RigPlace::separation, RigVerdict::not_judged, 0.0, 0.0, "as it was said"};
  const auto told = [](RigTask task, const RigResult& result, const Words& words) {
    return told_result(result, work_of(task), words).value();
  };
  const auto qualified = [&](const std::vector<RigFinding>& findings, const Words& words) {
    Qualification result;
    result.findings = findings;
    return told(RigTask::qualification, result, words);
  };
  CHECK(qualified({loose, apart}, english()).findings.at(0).words == "as it was said");
  const ToldResult both = qualified({loose, apart}, german());
  CHECK(both.findings.at(0).verdict == RigVerdict::failed);
  CHECK(both.findings.at(0).words ==
        "Anzeigen der kleinen Prüfmasse weichen bis zu 15,3 % von ihrem Mittel ab, eine ausgenommen, erlaubt 12,0 %; "
        "nach losen Aufnehmern, Kabeln und Schrauben der Lagerböcke suchen");
  // One fault is not told as several, and a rig that was never qualified has no record.
  CHECK(both.findings.at(1).words == "nicht beurteilt, weil die Auswuchtbank ihre Anzeigen nicht wiederholt");
  CHECK(qualified({apart}, german()).findings.at(0).words ==
        "erste Eignungsprüfung dieser Auswuchtbank: sie wird zum Bezug");
  // The daily check holds the adapters against g·mm, all else against a part.
  const RigFinding moved{RigPlace::adapters, RigVerdict::passed, 38.25, 92.0, "as it was said"};
  RigCheck check;
  check.within = true;
  check.findings = {moved};
  const ToldResult daily = told(RigTask::check, check, german());
  CHECK(daily.good);
  CHECK(daily.findings.at(0).words ==
        "ohne Prüfmassen zeigt die Prüfwelle 38,2 g·mm neben dem Wert der Eignungsprüfung, erlaubt 92,0 g·mm");
  Recalibration found;
  found.change = {Phasor(0.8, 0.0), Phasor(1.0, 0.0)};
  found.cross_talk = 0.07;
  const ToldResult changed = told(RigTask::recalibration, found, german());
  CHECK_FALSE(changed.good);
  CHECK(changed.lines.at(0) ==
        "Aufnehmer A zeigt von den bekannten Massen das 0,800-Fache des Sollwerts, um 0,0° gedreht; Aufnehmer B "
        "zeigt von den bekannten Massen das 1,000-Fache des Sollwerts, um 0,0° gedreht; eine Empfindlichkeit erklärt "
        "weder eine Drehung noch 7 % eines Aufnehmers im anderen: erst Aufnehmer und Kabel instand setzen");
  CHECK_FALSE(told_result({}, work_of(RigTask::check), german()).has_value());
}
