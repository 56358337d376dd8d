// `rig` as a person uses it: told one spin at a time, on the simulated rig, healthy and with one fault at a time.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "counterspot/log/log.hpp"
#include "counterspot/log/rig_log.hpp"
#include "faulty_rig.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using RigJson = nlohmann::json;

namespace {

/// A shop with a rig, its file, a reference shaft and a log.
struct Shop {
  TemporaryFolder folder;
  std::string log = (folder / "log.db").string();
  std::string rig;
  std::string shaft;

  explicit Shop(const std::string& more = "") {
    const auto scenario = rigsim::marrow_creek();
    rig = write_file(folder / "rig.toml",
                     rigsim::rig_toml(scenario) + "[qualification]\nsmallest_residual = \"80 g·mm\"\n" + more)
              .string();
    shaft = write_file(folder / "reference.toml", rigsim::shaft_toml(scenario)).string();
  }

  Ran run(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--log", log});
    return run_program(arguments);
  }
  Ran begin(const std::string& verb) const { return run({"rig", verb, "--rig", rig, "--shaft", shaft, "--json"}); }
};

RigJson parsed(const Ran& ran) {
  INFO(ran.err);
  REQUIRE((ran.exit_code == 0 || ran.exit_code == 1));
  return RigJson::parse(ran.out);
}

RigPlace place_named(const std::string& name) {
  for (RigPlace place : {RigPlace::sensors, RigPlace::separation, RigPlace::smallest_residual, RigPlace::reduction,
                         RigPlace::speed, RigPlace::adapters})
    if (rig_place_name(place) == name) return place;
  FAIL("no such place: " << name);
  return RigPlace::sensors;
}

/// What the operator makes of an instruction, from its own words alone.
PlannedRigSpin as_told(const RigJson& step, const FaultyRig& faulty) {
  PlannedRigSpin planned;
  planned.place = place_named(step["place"]);
  for (const RigJson& mass : step["test_masses"]) {
    const int plane = mass["plane"] == faulty.reference.planes[0].name ? 0 : 1;
    planned.fitted.push_back({plane, mass["mass_g"].get<double>() / 1e3, mass["radius_mm"].get<double>() / 1e3,
                              radians(mass["angle_deg"].get<double>())});
  }
  if (!step["speed_rpm"].is_null())
    planned.speed_fraction = rad_per_s(step["speed_rpm"].get<double>()) / faulty.scenario.balancing_rad_s;
  planned.turned_rad = radians(step["turned_deg"].get<double>());
  return planned;
}

std::vector<std::string> typed(const RigSpin& spin, const FaultyRig& faulty, const std::string& unit = "m/s2") {
  std::vector<std::string> arguments = {"--speed", fmt::format("{:.9g} rpm", rpm(spin.speed_rad_s))};
  for (std::size_t s : {0U, 1U}) {
    arguments.emplace_back("--vector");
    arguments.push_back(fmt::format("{}={:.9g} {} @ {:.9g} deg ± {:.3g} {}", faulty.rig.sensors[s].name,
                                    std::abs(spin.vectors[s]), unit, direction_deg(spin.vectors[s]),
                                    2.0 * std::sqrt(spin.covariances[s](0, 0)), unit));  // a ± holds 95 %
  }
  return arguments;
}

/// How the doctor finds a part of the shop.
std::string health_of(const Shop& shop, const std::string& part) {
  const RigJson found = parsed(shop.run({"doctor", "--rig", shop.rig, "--json"}));
  for (const RigJson& each : found["parts"])
    if (each["part"] == part) return each["health"];
  return "not looked at";
}

/// Does what it is told until nothing is asked any more; gives the last answer.
RigJson follow(const Shop& shop, const std::string& verb, FaultyRig& faulty, const std::string& unit = "m/s2") {
  RigJson step = parsed(shop.begin(verb));
  for (int spins = 0; step["step"].get<int>() > 0; ++spins) {
    REQUIRE(spins < 40);
    std::vector<std::string> arguments = {"rig", "spin", "--json"};
    const auto said = typed(faulty.spin(as_told(step, faulty)), faulty, unit);
    arguments.insert(arguments.end(), said.begin(), said.end());
    step = parsed(shop.run(arguments));
  }
  return step;
}

std::vector<std::string> failed_in(const RigJson& answer) {
  std::vector<std::string> places;
  for (const RigJson& finding : answer["result"]["findings"])
    if (finding["verdict"] == "failed") places.push_back(finding["place"]);
  return places;
}

RigJson qualified(const Shop& shop, const Fault& fault = {}, std::uint64_t seed = 77) {
  FaultyRig faulty(fault, seed);
  return follow(shop, "qualify", faulty);
}

}  // namespace

TEST_CASE("told spin by spin, a healthy rig is qualified, and each planted fault fails in its own place") {
  const Shop shop;
  const RigJson first = qualified(shop);
  CHECK(first["result"]["passed"] == true);
  CHECK(first["steps"] == 34);
  const std::vector<std::pair<Fault, RigPlace>> faults = {{{.pedestal = 0.17}, RigPlace::speed},
                                                          {{.loose_sensor = 0.3}, RigPlace::smallest_residual},
                                                          {{.sensitivity = 0.8}, RigPlace::sensors},
                                                          {{.cross_talk = 0.2}, RigPlace::separation},
                                                          {{.worn_adapter_umar = 4.0}, RigPlace::adapters}};
  std::uint64_t seed = 90;
  for (const auto& [fault, place] : faults) {
    CAPTURE(rig_place_name(place));
    const RigJson answer = qualified(shop, fault, seed++);
    CHECK(answer["result"]["passed"] == false);
    CHECK(failed_in(answer) == std::vector<std::string>{std::string(rig_place_name(place))});
    CHECK(shop.run({"rig", "next"}).exit_code == 1);
  }
  CHECK(parsed(shop.run({"rig", "show", "--json"}))["last_failed"] == true);
  CHECK(health_of(shop, "qualification") == "to_mend");
  CHECK(qualified(shop, {}, 99)["result"]["passed"] == true);  // mended, and held against the first record
  CHECK(parsed(shop.run({"rig", "show", "--json"}))["last_failed"] == false);
  CHECK(shop.run({"log", "check"}).exit_code == 0);
}

TEST_CASE("the report is dated, says what was found, and is the same file each time") {
  const Shop shop;
  qualified(shop);
  for (const char* ending : {".pdf", ".svg", ".png", ".html"}) {
    CAPTURE(ending);
    const std::string one = (shop.folder / ("one" + std::string(ending))).string();
    const std::string other = (shop.folder / ("other" + std::string(ending))).string();
    for (const std::string& file : {one, other}) CHECK(shop.run({"rig", "report", "--out", file}).exit_code == 0);
    CHECK(read_file(one).size() > 1000);
    CHECK(read_file(one) == read_file(other));
  }
  const RigJson report = parsed(shop.run({"rig", "report", "--json"}));
  CHECK(report["passed"] == true);
  CHECK(report["spins"].size() == 34);
  CHECK(report["small_over_mean"][0].size() == 12);
  CHECK(report["reductions"][1].size() == 11);
  // A year (common practice, no source).
  CHECK(unix_time_of(report["due"]) - unix_time_of(report["date"]) == 365 * 86400);
}

TEST_CASE("the daily check takes two spins, and says what has changed") {
  const Shop shop;
  qualified(shop);
  FaultyRig healthy({}, 101);
  const RigJson well = follow(shop, "check", healthy);
  CHECK(well["steps"] == 2);
  CHECK(well["result"]["within"] == true);
  CHECK(health_of(shop, "log") == "well");
  CHECK(health_of(shop, "qualification") == "well");
  CHECK(health_of(shop, "daily_check") == "well");
  FaultyRig weak({.sensitivity = 0.8}, 102);
  const RigJson ill = follow(shop, "check", weak);
  CHECK(ill["result"]["within"] == false);
  CHECK(failed_in(ill) == std::vector<std::string>{"sensors"});
  CHECK(ill["result"]["sensors"][0]["size_ratio"].get<double>() == Approx(0.8).epsilon(0.02));
  CHECK(ill["result"]["sensors"][1]["size_ratio"].get<double>() == Approx(1.0).epsilon(0.02));
  const Ran shown = shop.run({"rig", "show"});
  CHECK(shown.out.find("OUTSIDE") != std::string::npos);
  CHECK(health_of(shop, "daily_check") == "to_mend");
}

TEST_CASE("a rig that was outside at its last check is within for no shaft, until it is mended and checked again") {
  const Shop shop;
  qualified(shop);
  write_file(
      shop.folder / "spins.toml",
      "rig = \"rig.toml\"\nshaft = \"reference.toml\"\n[[spin]]\nvector = { A = \"1 m/s2 @ 20 deg ± 0.01 m/s2\", B = "
      "\"1 m/s2 @ 60 deg ± 0.01 m/s2\" }\nlabel = \"as found\"\n[[spin]]\nlabel = \"trial at A\"\nvector = { A = \"3 "
      "m/s2 @ 20 deg ± 0.01 m/s2\", B = \"1.1 m/s2 @ 70 deg ± 0.01 m/s2\" }\nfitted = [ { plane = \"A\", mass = \"15 "
      "g\", angle = \"0 deg\" } ]\n[[spin]]\nlabel = \"trial at B\"\nvector = { A = \"2.1 m/s2 @ 5 deg ± 0.01 "
      "m/s2\", B = \"2 m/s2 @ 60 deg ± 0.01 m/s2\" }\nfitted = [ { plane = \"B\", mass = \"15 g\", angle = \"0 deg\" } "
      "]\n");
  const auto held_back = [&] {
    const RigJson solved = parsed(shop.run({"solve", (shop.folder / "spins.toml").string(), "--json"}));
    for (const RigJson& reason : solved["held_back"])
      if (reason["code"] == "qualification_failed") return true;
    return false;
  };
  CHECK_FALSE(held_back());
  FaultyRig weak({.sensitivity = 0.8}, 102);
  follow(shop, "check", weak);
  CHECK(held_back());
  FaultyRig mended({}, 103);
  follow(shop, "check", mended);
  CHECK_FALSE(held_back());
}

TEST_CASE("a recalibration finds the sensitivity that a sensor has lost, and writes it only when told") {
  const Shop shop;
  qualified(shop);
  FaultyRig weak({.sensitivity = 0.8}, 103);
  const std::string before = read_file(shop.rig);
  const RigJson found = follow(shop, "recalibrate", weak);
  CHECK(found["result"]["sound"] == true);
  CHECK(read_file(shop.rig) == before);
  REQUIRE(shop.run({"rig", "recalibrate", "--write", "--rig", shop.rig}).exit_code == 0);
  const Rig rig = read_rig(shop.rig);
  CHECK(rig.sensors[0].sensitivity.volts_per_si / weak.rig.sensors[0].sensitivity.volts_per_si ==
        Approx(0.8).epsilon(0.01));
  CHECK(rig.sensors[1].sensitivity.volts_per_si / weak.rig.sensors[1].sensitivity.volts_per_si ==
        Approx(1.0).epsilon(0.01));
  // Nothing else in the file has changed, and writing twice is writing once.
  const std::string after = read_file(shop.rig);
  REQUIRE(shop.run({"rig", "recalibrate", "--write", "--rig", shop.rig}).exit_code == 0);
  CHECK(read_file(shop.rig) == after);
  CHECK(std::count(before.begin(), before.end(), '\n') == std::count(after.begin(), after.end(), '\n'));
}

TEST_CASE("where no sensitivity is known a rig is qualified in volts, and there is nothing to recalibrate") {
  const Shop shop;
  std::string text = read_file(shop.rig);
  const std::string stated = "sensitivity = \"";
  for (std::size_t at = text.find(stated); at != std::string::npos; at = text.find(stated, at + 1))
    text.replace(at, text.find('"', at + stated.size()) - at, stated + "unknown");
  write_file(shop.rig, text);
  FaultyRig healthy({}, 77);
  CHECK(follow(shop, "qualify", healthy, "V")["result"]["passed"] == true);
  for (const Ran& refused :
       {shop.begin("recalibrate"), shop.run({"rig", "recalibrate", "--write", "--rig", shop.rig})}) {
    CHECK(refused.exit_code == 2);
    CHECK(refused.err.find("has no sensitivity that could be put right") != std::string::npos);
    CHECK(refused.err.find("qualify the rig anew") != std::string::npos);
  }
  CHECK(read_file(shop.rig) == text);
  const std::string report = (shop.folder / "report.html").string();
  CHECK(shop.run({"rig", "report", "--out", report}).exit_code == 0);
  for (const std::string& told : {read_file(report), shop.run({"rig", "report", "--json"}).out,
                                  shop.run({"rig", "next"}).out, shop.run({"rig", "show"}).out})
    for (const char* motion : {"m/s2", "m/s²", "mm/s", "µm ", " um"}) {
      CAPTURE(motion);
      CHECK(told.find(motion) == std::string::npos);
    }
}

TEST_CASE("of two works that were opened within a second, the later one is in work") {
  const Shop shop;
  qualified(shop);
  Log log = Log::open(shop.log, false);
  const Opening opening{"rig.toml", read_file(shop.rig), "reference.toml", read_file(shop.shaft), "test", now_unix_s()};
  for (RigTask task : {RigTask::recalibration, RigTask::qualification, RigTask::check}) {
    CAPTURE(rig_task_name(task));
    const RigWork work = open_rig_work(log, task, opening);
    CHECK(newest_rig_work(log, "")->uid == work.uid);
    append(log, work, {RigClosed{"only opened", {}}}, "test", opening.at_unix_s);
    CHECK_FALSE(state_of(*newest_rig_work(log, "")).open);
  }
}

TEST_CASE("auf Deutsch: die Eignungsprüfung, was sie ergab, ihr Verlauf und ihr Bericht") {
  const Shop shop;
  const Ran begun = shop.run({"rig", "qualify", "--rig", shop.rig, "--shaft", shop.shaft, "--language", "de"});
  CHECK(begun.out.find("Eignungsprüfung mit ") != std::string::npos);
  CHECK(begun.out.find("WEITER  Messen, dann 'rig spin AUFNAHME'.") != std::string::npos);
  CHECK(begun.out.find("VORSICHT") != std::string::npos);
  REQUIRE(shop.run({"rig", "close", "Schraube lose"}).exit_code == 0);
  qualified(shop);
  CHECK(shop.run({"rig", "next", "--language", "de"}).out.find("HAT die Eignungsprüfung BESTANDEN") !=
        std::string::npos);
  const std::string shown = shop.run({"rig", "show", "--language", "de"}).out;
  for (const char* words : {"Eignungsprüfung bestanden am ", "Messlauf  Schritt 34", "beurteilt", "Aufnehmer A: "})
    CHECK(shown.find(words) != std::string::npos);
  const std::string file = (shop.folder / "bericht.html").string();
  REQUIRE(shop.run({"rig", "report", "--language", "de", "--out", file}).exit_code == 0);
  const std::string report = read_file(file);
  for (const char* words : {"<html lang=\"de\"", "EIGNUNGSPRÜFUNG", "Unwucht-Reduzierverhältnis", "min⁻¹"})
    CHECK(report.find(words) != std::string::npos);
  for (const char* words : {"spins", "reference shaft", "judgement", "SPIN", "sensor "})
    CHECK(report.find(words) == std::string::npos);
  // What programs read is in English, whatever a person reads.
  CHECK(shop.run({"rig", "report", "--language", "de", "--json"}).out == shop.run({"rig", "report", "--json"}).out);
  CHECK(shop.run({"rig", "next", "--language", "de", "--json"}).out == shop.run({"rig", "next", "--json"}).out);
}

TEST_CASE("a spin that went wrong is taken back with a reason, stays in the log, and is asked for again") {
  const Shop shop;
  FaultyRig faulty({});
  RigJson step = parsed(shop.begin("qualify"));
  for (int i = 0; i < 2; ++i) {
    std::vector<std::string> arguments = {"rig", "spin", "--json"};
    const auto said = typed(faulty.spin(as_told(step, faulty)), faulty);
    arguments.insert(arguments.end(), said.begin(), said.end());
    step = parsed(shop.run(arguments));
  }
  CHECK(step["step"] == 3);
  const RigJson back = parsed(shop.run({"rig", "back", "the mass sat at 60 deg", "--json"}));
  CHECK(back["step"] == 2);
  CHECK(back["entries"] == 3);
  const Ran shown = shop.run({"rig", "show"});
  CHECK(shown.out.find("(taken back) spin  step 2") != std::string::npos);
  CHECK(shown.out.find("the mass sat at 60 deg") != std::string::npos);
  // A second work on the same rig is refused until this one is ended.
  CHECK(shop.begin("qualify").exit_code == 2);
  CHECK(shop.run({"rig", "close", "a pedestal bolt was loose"}).exit_code == 0);
  CHECK(shop.begin("qualify").exit_code == 0);
}

TEST_CASE("a spin at another speed than asked for is refused, and nothing is kept of it") {
  const Shop shop;
  parsed(shop.begin("qualify"));
  auto spin_at = [&](const std::string& rpm) {
    return shop.run({"rig", "spin", "--speed", rpm, "--vector", "A=1 m/s2 @ 0 deg ± 0.01 m/s2", "--vector",
                     "B=1 m/s2 @ 10 deg ± 0.01 m/s2", "--json"});
  };
  CHECK(parsed(spin_at("1600 rpm"))["step"] == 2);
  const Ran refused = spin_at("1700 rpm");
  CHECK(refused.exit_code == 2);
  CHECK(refused.err.find("1600 rpm were asked") != std::string::npos);
  CHECK(parsed(shop.run({"rig", "next", "--json"}))["step"] == 2);
}

TEST_CASE("test masses far from what was asked for are kept only once it was asked about") {
  const Shop shop;
  FaultyRig faulty({});
  RigJson step = parsed(shop.begin("qualify"));
  while (step["test_masses"].empty()) {
    std::vector<std::string> bare = {"rig", "spin", "--json"};
    const auto said = typed(faulty.spin(as_told(step, faulty)), faulty);
    bare.insert(bare.end(), said.begin(), said.end());
    step = parsed(shop.run(bare));
  }
  std::vector<std::string> arguments = {"rig", "spin", "--json"};
  const auto said = typed(faulty.spin(as_told(step, faulty)), faulty);
  arguments.insert(arguments.end(), said.begin(), said.end());
  for (const RigJson& piece : step["test_masses"])  // grams typed as kilograms
    arguments.insert(arguments.end(), {"--mass", fmt::format("{} {:.4f} kg @ 0 deg", piece["plane"].get<std::string>(),
                                                             piece["mass_g"].get<double>())});
  const Ran question = shop.run(arguments);
  CHECK(question.exit_code == 2);
  CHECK(question.err.find("Is it so?") != std::string::npos);
  CHECK(question.err.find("--as-typed") != std::string::npos);
  CHECK(parsed(shop.run({"rig", "next", "--json"}))["step"] == step["step"]);
  arguments.emplace_back("--as-typed");
  CHECK(parsed(shop.run(arguments))["step"] == step["step"].get<int>() + 1);
}

TEST_CASE("a check needs a rig that was once qualified with this shaft; a rig that claims nothing cannot be proved") {
  const Shop shop;
  const Ran unproved = shop.begin("check");
  CHECK(unproved.exit_code == 2);
  CHECK(unproved.err.find("never qualified with the reference shaft") != std::string::npos);
  write_file(shop.folder / "rig.toml", rigsim::rig_toml(rigsim::marrow_creek()));
  const Ran no_claims = shop.begin("qualify");
  CHECK(no_claims.exit_code == 2);
  CHECK(no_claims.err.find("does not say what it is to reach") != std::string::npos);
}

TEST_CASE("qualifications go through export, import and backup, and are judged alike there") {
  const Shop shop;
  qualified(shop);
  const std::string shown = shop.run({"rig", "show"}).out;
  for (const char* kind : {"--csv", "--json"}) {
    const std::string file = (shop.folder / (std::string("all") + kind)).string();
    std::vector<std::string> arguments = {"log", "export", "--out", file};
    if (std::string(kind) == "--csv") arguments.emplace_back(kind);
    REQUIRE(shop.run(arguments).exit_code == 0);
    const std::string other = (shop.folder / (std::string("other") + kind + ".db")).string();
    const Ran taken = run_program({"log", "import", file, "--log", other, "--json"});
    REQUIRE(taken.exit_code == 0);
    CHECK(RigJson::parse(taken.out)["new_rig_records"] == 36);  // the opening, 34 spins, the judgement
    CHECK(run_program({"rig", "show", "--log", other}).out == shown);
    CHECK(RigJson::parse(run_program({"log", "import", file, "--log", other, "--json"}).out)["new_rig_records"] == 0);
  }
  const std::string backup = (shop.folder / "backup.db").string();
  REQUIRE(shop.run({"log", "backup", backup}).exit_code == 0);
  CHECK(run_program({"rig", "show", "--log", backup}).out == shown);
}

TEST_CASE("solve and job say that a qualification is overdue, where a log is in use and only there") {
  const Shop shop("every = \"1 s\"\n");
  qualified(shop);
  write_file(shop.folder / "spins.toml", R"(rig = "rig.toml"
shaft = "reference.toml"
[[spin]]
label = "as found"
vector = { A = "2 m/s2 @ 10 deg ± 0.01 m/s2", B = "1 m/s2 @ 80 deg ± 0.01 m/s2" }
[[spin]]
label = "trial at A"
vector = { A = "3 m/s2 @ 20 deg ± 0.01 m/s2", B = "1.1 m/s2 @ 70 deg ± 0.01 m/s2" }
fitted = [ { plane = "A", mass = "15 g", angle = "0 deg" } ]
[[spin]]
label = "trial at B"
vector = { A = "2.1 m/s2 @ 5 deg ± 0.01 m/s2", B = "2 m/s2 @ 60 deg ± 0.01 m/s2" }
fitted = [ { plane = "B", mass = "15 g", angle = "0 deg" } ]
)");
  const std::string spins = (shop.folder / "spins.toml").string();
  auto says_due = [](const RigJson& answer) {
    for (const RigJson& warning : answer["warnings"])
      if (warning["code"] == "qualification_due") return true;
    return false;
  };
  while (parsed(shop.run({"rig", "show", "--json"}))["overdue"] == false) continue;  // a second
  CHECK(health_of(shop, "qualification") == "to_mend");
  CHECK(says_due(parsed(shop.run({"solve", spins, "--json"}))));
  CHECK_FALSE(says_due(parsed(run_program({"solve", spins, "--json"}))));
  CHECK(says_due(parsed(shop.run({"job", "open", shop.shaft, "--rig", shop.rig, "--json"}))));

  // What the qualification found has its part in the verdict (ISO 21940-14).
  std::vector<std::string> sources;
  const RigJson solved = parsed(shop.run({"solve", spins, "--json"}));
  for (const RigJson& row : solved["budget"]) sources.push_back(row["source"]);
  const std::vector<std::string> wanted = {"noise of the readings", "setting of the weights", "adapters",
                                           "mounting of the shaft", "repeatability of the rig"};
  CHECK(sources == wanted);
  const Ran budget = shop.run({"solve", spins, "--budget"});
  CHECK(budget.out.find("BUDGET") != std::string::npos);
  CHECK(budget.out.find("combined") != std::string::npos);
}

TEST_CASE("a sheet says when its rig was qualified before it, and what it reached then") {
  const Shop shop;
  qualified(shop);
  const RigJson opened = parsed(shop.run({"job", "open", shop.shaft, "--rig", shop.rig, "--json"}));
  const std::string job = opened["job"];
  const RigJson sheet = parsed(shop.run({"sheet", job, "--json"}));
  CHECK(sheet["qualification"]["umar_gmm"] == parsed(shop.run({"rig", "report", "--json"}))["umar_gmm"]);
  const std::string html = (shop.folder / "sheet.html").string();
  REQUIRE(shop.run({"sheet", job, "--out", html}).exit_code == 0);
  CHECK(read_file(html).find("smallest achievable residual A ") != std::string::npos);
  const auto file = write_file(shop.folder / "sheet.json", shop.run({"sheet", job, "--json"}).out);
  CHECK(shop.run({"log", "verify", file.string()}).exit_code == 0);
}

TEST_CASE("a rig that was qualified has taught before its first job") {
  const Shop shop;
  CHECK(shop.run({"rig", "model"}).exit_code == 2);
  qualified(shop);
  const RigJson model = parsed(shop.run({"rig", "model", "--json"}));
  REQUIRE(model["jobs"].size() == 1);
  CHECK(model["jobs"][0]["job"] == "qualification");
  CHECK(model["jobs"][0]["set_aside"] == false);
  CHECK(shop.run({"rig", "model"}).out.find("learnt from its qualification") != std::string::npos);
}
