// `rig model` on a made-up shop whose pedestals are known: 4.0 kg, and k so that 12 kg would swing at 9 Hz.
#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>

#include "made_up_shop.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using nlohmann::json;

namespace {

constexpr std::int64_t first_day = 1764072000;

struct ShopFiles {
  TemporaryFolder folder;
  explicit ShopFiles(int jobs, MadeUpShop shop = MadeUpShop()) {
    Log log = Log::open((folder / "log.db").string(), true);
    for (int i = 0; i < jobs; ++i) shop.spun_job(log, i, 3, first_day + 86400 * i);
    write_file(folder / "shaft.toml", shop.shaft_text(99));
  }
  Ran run(std::vector<std::string> more) const {
    more.insert(more.begin(), {"rig", "model", "--log", "log.db"});
    return run_program(more, "/dev/null", folder.path());
  }
};

}  // namespace

TEST_CASE("rig model shows pedestals within their ±, the jobs that taught, what is foretold, and a picture", "[long]") {
  const ShopFiles files(10);
  const Ran as_json = files.run({"--json"});
  REQUIRE(as_json.exit_code == 0);
  const json document = json::parse(as_json.out);
  CHECK(document.at("rig") == "bay 2");
  CHECK(document.at("kind") == "soft");
  CHECK(document.at("jobs").size() == 10);
  CHECK(document.at("jobs").at(0).at("job") == "PS-0/1");
  const double frequency_Hz = 9.0 * std::sqrt(12.0 / 4.0);
  for (const json& pedestal : document.at("pedestals")) {
    auto within = [&](const char* key, double truth) {
      const double u = pedestal.at(std::string("u_") + key).get<double>();
      CAPTURE(key, u);
      CHECK(std::abs(pedestal.at(key).get<double>() - truth) < 3.0 * u);
    };
    within("moving_mass_kg", 4.0);
    within("natural_frequency_Hz", frequency_Hz);
    within("sensor_gain", 1.0);
    within("sensor_angle_deg", 0.7 * 180.0 / pi);
    CHECK_FALSE(pedestal.at("drift").at("moved").get<bool>());
  }
  CHECK(document.at("reach").size() == 12);
  const Ran as_text = files.run({"--picture", "rig.svg"});
  REQUIRE(as_text.exit_code == 0);
  CHECK_THAT(as_text.out, Catch::Contains("RIG bay 2   a soft rig, learnt from 10 jobs, 2025-11-25 to 2025-12-04") &&
                              Catch::Contains("PEDESTAL A") && Catch::Contains("FORETOLD"));
  CHECK_THAT(read_file(files.folder / "rig.svg"), Catch::Contains("<svg"));
  const Ran in_german = files.run({"--shaft", "shaft.toml", "--language", "de"});
  CHECK_THAT(in_german.out,
             Catch::Contains("AUSWUCHTBANK bay 2   weich gelagert, gelernt aus 10 Aufträgen, 2025-11-25 bis") &&
                 Catch::Contains("LAGERBOCK A") && Catch::Contains("VORHERGESAGT") && Catch::Contains("WELLE PS-99") &&
                 Catch::Contains("VORSICHT"));
  for (const char* word : {"RIG ", "PEDESTAL", " of ", " the ", "rpm", " and ", " with ", "known", "jobs", "SHAFT",
                           "Nothing", "CAUTION", "BALANCE", " deg"}) {
    CAPTURE(word, in_german.out);
    CHECK(in_german.out.find(word) == std::string::npos);
  }
  // Forgotten and learnt again it is the same, to the last digit.
  CHECK(files.run({"--anew", "--json"}).out == as_json.out);
}

TEST_CASE("rig model says that something swings on a pedestal, how fast and how heavy, and where to look", "[long]") {
  const ShopFiles files(12, MadeUpShop("bay 2", true));
  const Ran as_text = files.run({});
  REQUIRE(as_text.exit_code == 0);
  CHECK_THAT(as_text.out, Catch::Contains("SOMETHING THAT SWINGS on pedestal A") &&
                              Catch::Contains("Something swings by itself near 14") && Catch::Contains("loose guard"));
  const json document = json::parse(files.run({"--json"}).out);
  REQUIRE(document.at("attached").size() == 1);
  const json& attached = document.at("attached").at(0);
  CHECK(attached.at("pedestal") == "A");
  for (const auto& [key, truth] : {std::pair{"mass_kg", 0.8}, {"swings_Hz", 24.0}})
    CHECK(std::abs(attached.at(key).get<double>() - truth) < 3.0 * attached.at(std::string("u_") + key).get<double>());
}

TEST_CASE("rig model says which balancing speed suits a shaft, away from its resonances", "[long]") {
  const ShopFiles files(6);
  const Ran ran = files.run({"--shaft", "shaft.toml", "--json"});
  REQUIRE(ran.exit_code == 0);
  const json document = json::parse(ran.out);
  const json& advice = document.at("shaft");
  const double best = advice.at("best").at("speed_rpm").get<double>();
  for (const json& rate : advice.at("resonances_rpm"))
    CHECK(std::abs(std::log(best / rate.get<double>())) > std::log(1.29));
  double fastest_rpm = 0.0;
  for (const json& job : document.at("jobs")) fastest_rpm = std::max(fastest_rpm, job.at("speed_rpm").get<double>());
  CHECK(best <= 1.0001 * fastest_rpm);  // never faster than the rig was spun
  CHECK_THAT(files.run({"--shaft", "shaft.toml"}).out, Catch::Contains("BALANCE at") && Catch::Contains("CAUTION"));
}

TEST_CASE("rig model advises no speed for a shaft that may only turn slower than one balances", "[long]") {
  const ShopFiles files(6);
  std::string slow = MadeUpShop().shaft_text(98);
  const std::string usual = "\"3200 rpm\"";
  REQUIRE(slow.find(usual) != std::string::npos);
  slow.replace(slow.find(usual), usual.size(), "\"390 rpm\"");
  write_file(files.folder / "slow.toml", slow);
  const Ran ran = files.run({"--shaft", "slow.toml"});
  CHECK(ran.exit_code == 0);
  CHECK_THAT(ran.out, Catch::Contains("no speed to advise") && !Catch::Contains("BALANCE"));
  CHECK(json::parse(files.run({"--shaft", "slow.toml", "--json"}).out).at("shaft").at("best").is_null());
}

TEST_CASE(
    "rig model carries what was learnt to a log without the jobs, tells where it is from, and refuses another rig") {
  const ShopFiles files(4);
  write_file(files.folder / "rig.toml", MadeUpShop().rig_text());
  REQUIRE(files.run({"--out", "lessons.json"}).exit_code == 0);
  CHECK_THAT(files.run({"--out", "lessons.json"}).err, Catch::Contains("--replace"));
  const auto elsewhere = [&](std::vector<std::string> more) {
    more.insert(more.begin(), {"rig", "model", "--log", "other.db", "--rig"});
    return run_program(more, "/dev/null", files.folder.path());
  };
  const Ran brought = elsewhere({"rig.toml", "--from", "lessons.json"});
  CAPTURE(brought.err);
  REQUIRE(brought.exit_code == 0);
  CHECK_THAT(brought.out, Catch::Contains("learnt from 4 jobs, 4 of them from another log") &&
                              Catch::Contains("BROUGHT IN from another log") &&
                              Catch::Contains("lessons.json, written") && Catch::Contains("PS-2 2025-11-27"));
  const json told = json::parse(elsewhere({"rig.toml", "--json"}).out).at("brought_in");
  CHECK(told.at(0).at("jobs").at(2).at("shaft") == "PS-2");
  CHECK(told.at(0).at("file") == "lessons.json");
  write_file(files.folder / "moved.toml", MadeUpShop("bay 7").rig_text());
  const Ran refused = elsewhere({"moved.toml", "--from", "lessons.json"});
  CHECK(refused.exit_code == 2);
  CHECK(refused.out.empty());
  CHECK_THAT(refused.err, Catch::Contains("what rig bay 2 taught does not hold for this one: this is rig bay 7"));
}

TEST_CASE("rig model says what it lacks") {
  const ShopFiles none(0);
  const Ran no_rig = none.run({});
  CHECK(no_rig.exit_code == 2);
  CHECK(no_rig.out.empty());
  CHECK_THAT(no_rig.err, Catch::Contains("the log knows no rig"));
  {
    Log log = Log::open((none.folder / "log.db").string(), false);
    MadeUpShop().spun_job(log, 1, 1, first_day);
  }
  const Ran nothing = none.run({});
  CHECK(nothing.exit_code == 2);
  CHECK_THAT(nothing.err, Catch::Contains("nothing has taught this program anything of rig bay 2 yet"));
}
