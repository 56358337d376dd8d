#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>

#include "counterspot/angle.hpp"
#include "counterspot/error.hpp"
#include "counterspot/files.hpp"
#include "counterspot/stock.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

std::string data(const char* name) {
  return source_file(std::string("data/") + name).string();
}

const char* const typed_rig = R"([rig]
name = "bay"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
)";

}  // namespace

TEST_CASE("place brings the demonstration shaft within its limits, by prediction, outside the forbidden arcs") {
  const Ran ran = run_program({"place", data("spins.toml"), "--stock", data("stock.toml"), "--json"});
  REQUIRE(ran.exit_code == 0);
  const Json document = Json::parse(ran.out);
  CHECK(document["status"] == "optimal");
  CHECK(document["worst_ratio"].get<double>() < 0.1);
  const Shaft shaft = read_shaft(data("shaft.toml"));
  const Stock stock = read_stock(data("stock.toml"), shaft);
  REQUIRE(!document["pieces"].empty());
  for (const Json& piece : document["pieces"])
    for (const ForbiddenArc& arc : stock.rules_of(piece["plane"].get<std::string>()).forbidden)
      CHECK_FALSE(arc.contains(radians(piece["angle_deg"].get<double>())));
  for (const Json& held : document["held"])
    CHECK(held["predicted_gmm"].get<double>() <= held["limit_gmm"].get<double>());
  CHECK(!document["plans"].empty());
}

TEST_CASE("place says the cautions once, and the same numbers in both unit systems") {
  const Ran metric = run_program({"place", data("spins.toml"), "--stock", data("stock.toml")});
  const Ran inch = run_program({"place", data("spins.toml"), "--stock", data("stock.toml"), "--units", "inch"});
  for (const Ran& ran : {metric, inch}) {
    CHECK(ran.exit_code == 0);
    const auto first = ran.out.find("CAUTION");
    REQUIRE(first != std::string::npos);
    CHECK(ran.out.find("CAUTION", first + 1) == std::string::npos);
  }
  CHECK(metric.out.find(" mm by tape") != std::string::npos);
  CHECK(inch.out.find(" in by tape") != std::string::npos);
}

TEST_CASE("a stock file with a slip of the pen is refused with its line") {
  TemporaryFolder folder;
  auto refused = [&](const std::string& text) {
    return run_program({"place", data("spins.toml"), "--stock", write_file(folder / "stock.toml", text).string()});
  };
  const Ran unit = refused("[[piece]]\nname = \"washer\"\nmass = \"5\"\n");
  CHECK(unit.exit_code == 2);
  CHECK(unit.err.find("stock.toml:3:") != std::string::npos);
  CHECK(unit.out.empty());
  CHECK(refused("[[piece]]\nname = \"washer\"\nmas = \"5 g\"\n").exit_code == 2);
  CHECK(refused("[[piece]]\nname = \"w\"\nmass = \"5 g\"\n[[plane]]\nname = \"C\"\n").err.find("no plane 'C'") !=
        std::string::npos);
  CHECK(refused("").exit_code == 2);
}

TEST_CASE("what was really fitted may be stated by tape or by the clock") {
  TemporaryFolder folder;
  write_file(folder / "rig.toml", typed_rig);
  std::ifstream shaft(data("shaft.toml"));
  write_file(folder / "shaft.toml", std::string(std::istreambuf_iterator<char>(shaft), {}));
  auto angle_deg = [&](const std::string& place) {
    const auto path =
        write_file(folder / "spins.toml",
                   "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n[[spin]]\nlabel = \"x\"\n"
                   "vector = { A = \"6.0 mm/s @ 35 deg\" }\nfitted = [ { plane = \"A\", mass = \"15 g\", " +
                       place + " } ]\n");
    return degrees(read_spins(path).spins[0].fitted[0].angle_rad);
  };
  // By hand: 76.2 mm tube, 38.1 mm radius: 19.95 mm is 30 deg; 1 1/2 in = 38.1 mm is one radian.
  CHECK(angle_deg("arc = \"19.949 mm against rotation\"") == Approx(30.0).epsilon(1e-4));
  CHECK(angle_deg("arc = \"1 1/2 in with rotation\"") == Approx(360.0 - 57.29578));
  CHECK(angle_deg("clock = \"4:00\"") == Approx(120.0));
  CHECK_THROWS_AS(angle_deg("clock = \"4:00\", angle = \"120 deg\""), Error);
}

TEST_CASE("shaft tells the speeds, and refuses a trial weight that its clamp is not stated to hold") {
  const Ran ran = run_program({"shaft", data("shaft.toml"), "--balancing-speed", "1800 rpm", "--json"});
  REQUIRE(ran.exit_code == 0);
  const Json document = Json::parse(ran.out);
  CHECK(document["tube_kg"].get<double>() == Approx(5.449).epsilon(1e-3));  // by hand, see the tube's own test
  CHECK(document["first_critical_rpm"].get<double>() > document["service_speed_rpm"].get<double>() / 0.75);
  REQUIRE(document["trial_weights"].size() == 2);
  const Ran refused =
      run_program({"shaft", data("shaft.toml"), "--balancing-speed", "1800 rpm", "--clamp-holds", "5 N"});
  CHECK(refused.exit_code == 2);
  CHECK(refused.err.find("stated to hold 5 N") != std::string::npos);
}
