#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"
#include "demo_files.hpp"
#include "support.hpp"
#include "typed_shop.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

std::string data(const char* name) {
  return source_file(std::string("data/") + name).string();
}

}  // namespace

TEST_CASE("place brings the demonstration shaft within its limits, by prediction, outside the forbidden arcs",
          "[long]") {
  const Ran ran =
      run_program({"place", data("spins.toml"), "--stock", data("stock.toml"), "--patience", "60", "--json"});
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

TEST_CASE("place says the cautions once, and the same numbers in both unit systems", "[long]") {
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
  write_file(folder / "rig.toml", rig_toml({"bay", "100 mV/g", {"A"}}));
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

namespace {

const char* const washers = R"([[piece]]
name = "washer"
masses = ["5 g", "10 g", "20 g", "30 g"]
)";

const char* const closed_b = "[[plane]]\nname = \"B\"\nclosed = true\n";

}  // namespace

TEST_CASE("a closed plane's cost is said for the places that pay it") {
  const TypedShop shop(TypedShop::at(600.0, 40.0), TypedShop::at(900.0, 250.0));
  shop.write_spins({});
  write_file(shop.folder / "stock.toml", std::string(washers) + closed_b);
  const Ran ran = shop.run({"place", "spins.toml", "--stock", "stock.toml"});
  CHECK(ran.exit_code == 1);
  // G16, 14.6 kg, 3200 rpm (ISO 21940-11): 1000·16·14.6/335.1 = 697.1 g·mm, half at each end, so that 900 is 258 %.
  CHECK(ran.out.find("CLOSED PLANE B  what that costs\n") != std::string::npos);
  CHECK(ran.out.find("plane B keeps 900 g·mm, 258 % of its limit; open, it would come to ") != std::string::npos);
  CHECK(ran.out.find("support B keeps ") != std::string::npos);
  CHECK(ran.out.find("plane A keeps ") == std::string::npos);
  const Json document = Json::parse(shop.run({"place", "spins.toml", "--stock", "stock.toml", "--json"}).out);
  CHECK(document["closed_planes"] == Json::array({"B"}));
  CHECK(document["fixed_ratio"].get<double>() == Approx(900.0 / 348.5).epsilon(1e-3));
  CHECK(document["if_open"]["worst_ratio"].get<double>() < 0.1);
  for (const Json& piece : document["pieces"]) CHECK(piece["plane"] == "A");
}

TEST_CASE("a closed plane that needs nothing costs nothing, in words") {
  const TypedShop shop(TypedShop::at(600.0, 40.0), TypedShop::at(1.0, 250.0));
  shop.write_spins({});
  write_file(shop.folder / "stock.toml", std::string(washers) + closed_b);
  const Ran ran = shop.run({"place", "spins.toml", "--stock", "stock.toml"});
  CHECK(ran.exit_code == 0);
  CHECK(ran.out.find("nothing: the other planes do as well without it") != std::string::npos);
}

TEST_CASE("place gathers the clamps of a plane into one welded piece") {
  const TypedShop shop(TypedShop::at(390.0, 330.0), TypedShop::at(1.0, 0.0));
  // Two lumps of 10 g at 60 deg on either side of 150 act like 10 g at 150: 2·cos 60 = 1.
  shop.write_spins({{0, 10.0, 90.0}, {0, 10.0, 210.0}});
  write_file(shop.folder / "stock.toml", washers);
  const Json document =
      Json::parse(shop.run({"place", "spins.toml", "--stock", "stock.toml", "--gather", "A", "--json"}).out);
  REQUIRE(document["gathered"]["pieces"].size() == 1);
  const Json piece = document["gathered"]["pieces"][0];
  CHECK(piece["way"] == "weld");
  CHECK(piece["weighed_g"].get<double>() == Approx(10.0));
  CHECK(piece["angle_deg"].get<double>() == Approx(150.0));
  const Ran words = shop.run({"place", "spins.toml", "--stock", "stock.toml", "--gather", "A"});
  CHECK(
      words.out.find("GATHER the weights of the plane into one welded piece\n  A  weld washer, it must weigh 10.0 g") !=
      std::string::npos);
  const Ran nothing = shop.run({"place", "spins.toml", "--stock", "stock.toml", "--gather", "B"});
  CHECK(nothing.exit_code == 2);
  CHECK(nothing.err.find("plane B has fewer than two weights on it") != std::string::npos);
  CHECK(shop.run({"place", "spins.toml", "--stock", "stock.toml", "--gather", "C"}).err.find("no plane 'C'") !=
        std::string::npos);
}

TEST_CASE("the least worst ratio is asked for first, and fewer pieces are shown where they do as well on the shaft") {
  const TypedShop shop(TypedShop::at(600.0, 40.3), TypedShop::at(900.0, 250.3));
  shop.write_spins({});
  write_file(shop.folder / "stock.toml",
             "[[strip]]\nname = \"strip\"\nlinear_mass = \"0.5 g/mm\"\nshortest = \"15 mm\"\nlongest = \"80 mm\"\nstep "
             "= \"1 mm\"\n");
  const std::vector<std::string> asked = {"place", "spins.toml", "--stock", "stock.toml", "--patience", "60", "--json"};
  const Json strict = Json::parse(shop.run(asked).out);
  CHECK(strict["status"] == "optimal");
  REQUIRE(!strict["fewer_pieces"].is_null());
  CHECK(strict["fewer_pieces"]["pieces"].size() == 2);  // one per plane
  CHECK(strict["pieces"].size() == 4);                  // the two that are allowed on each
  CHECK(strict["worst_ratio"].get<double>() < strict["fewer_pieces"]["worst_ratio"].get<double>());
  std::vector<std::string> coarse = asked;
  coarse.insert(coarse.end(), {"--resolution", "0.05"});
  const Json few = Json::parse(shop.run(coarse).out);
  CHECK(few["pieces"] == strict["fewer_pieces"]["pieces"]);
  CHECK(few["fewer_pieces"].is_null());
}

TEST_CASE("coefficients of an earlier shaft choose the trial weight that changes the reading by 30 %") {
  const TypedShop shop(TypedShop::at(2000.0, 40.0), TypedShop::at(900.0, 250.0));
  shop.write_spins({});
  const std::vector<std::string> asked = {"shaft",    "shaft.toml", "--balancing-speed",
                                          "1800 rpm", "--earlier",  "spins.toml"};
  std::vector<std::string> for_programs = asked;
  for_programs.emplace_back("--json");
  const Json weights = Json::parse(shop.run(for_programs).out)["trial_weights"];
  // 30 % of 2000 g·mm at 39 mm is 15.38 g. At B 30 % of 900 are under the limit of 348.5 g·mm, which is taken: 8.94 g.
  CHECK(weights[0]["mass_g"].get<double>() == Approx(15.385).epsilon(1e-3));
  CHECK(weights[0]["rule"] == "changes the reading by 30 %");
  CHECK(weights[1]["mass_g"].get<double>() == Approx(348.5 / 39.0).epsilon(1e-3));
  CHECK(weights[1]["rule"] == "as much as the permissible residual unbalance");
  CHECK(shop.run(asked).out.find("A  15.4 g at radius 39.0 mm, pulls with 21 N (4.8 lbf) at 1800 rpm") !=
        std::string::npos);  // 0.015385·0.039·188.5² N
}

TEST_CASE("shaft says where a bent tube is to be pressed, and what its bow does at the planes") {
  TemporaryFolder folder;
  std::string text = shaft_toml() + "[straightness]\n";
  // A dial over a round tube whose middle lies 0.5 mm off towards 130 deg reads 0.5·cos(angle − 130 deg), total 1 mm.
  for (int z : {400, 750, 1100}) {
    const double bow_mm = z == 750 ? 0.5 : 0.35;
    text += "[[straightness.station]]\nposition = \"" + std::to_string(z) + " mm\"\nreadings = [\n";
    for (int angle = 0; angle < 360; angle += 45)
      text += "  { angle = \"" + std::to_string(angle) + " deg\", dial = \"" +
              std::to_string(bow_mm * std::cos(radians(angle - 130.0))) + " mm\" },\n";
    text += "]\n";
  }
  const std::string path = write_file(folder / "shaft.toml", text).string();
  const Ran ran = run_program({"shaft", path, "--balancing-speed", "1800 rpm"});
  CHECK(ran.exit_code == 1);
  CHECK(ran.out.find("straighten before balancing") != std::string::npos);
  CHECK(ran.out.find("press at 750 mm, on the side at 130 deg, so that the middle comes back by 0.500 mm") !=
        std::string::npos);
  CHECK(ran.out.find("the bow alone makes ") != std::string::npos);
  const Json document = Json::parse(run_program({"shaft", path, "--json"}).out);
  CHECK(document["straightness"]["within"] == false);
  CHECK(document["straightness"]["stations"][1]["bow_mm"].get<double>() == Approx(0.5).epsilon(1e-4));
  CHECK(document["straightness"]["stations"][1]["bow_angle_deg"].get<double>() == Approx(130.0).epsilon(1e-4));
  // The tube's 5.449 kg and what sits on its ends, on a polyline that is the same from both ends: alike at A and B, and
  // towards the bow. Bounded by pencil: no more than half the tube's mass with all of the largest bow.
  for (const Json& bow : document["bow"]) {
    CHECK(bow["angle_deg"].get<double>() == Approx(130.0).epsilon(1e-3));
    CHECK(bow["unbalance_gmm"].get<double>() < 0.5 * 5449.0 * 0.5);
    CHECK(bow["unbalance_gmm"].get<double>() > 0.5 * 5449.0 * 0.5 * 0.5);
    CHECK(bow["unbalance_gmm"].get<double>() ==
          Approx(document["bow"][0]["unbalance_gmm"].get<double>()).epsilon(1e-6));
  }
}

TEST_CASE("shaft says what angles and phasing of the joints do, and that no weight removes it") {
  TemporaryFolder folder;
  auto joints = [&](const std::string& phase, bool json) {
    const auto path = write_file(folder / "shaft.toml",
                                 shaft_toml() + "[joints]\nangle_A = \"6 deg\"\nangle_B = \"4 deg\"\n" + phase);
    std::vector<std::string> asked = {"shaft", path.string()};
    if (json) asked.emplace_back("--json");
    return run_program(asked).out;
  };
  // √(6² − 4²) = 4.47 deg; ripple β²/2 = (4.472·π/180)²/2 = 0.305 %; the shaft itself (6·π/180)²/2 = 0.548 %.
  const Json document = Json::parse(joints("", true))["joints"];
  CHECK(document["equivalent_angle_deg"].get<double>() == Approx(4.472).epsilon(1e-3));
  CHECK(document["speed_ripple_percent"].get<double>() == Approx(0.3046).epsilon(1e-3));
  CHECK(document["shaft_ripple_percent"].get<double>() == Approx(0.5483).epsilon(1e-3));
  CHECK(document["yokes_in_line"] == true);
  const std::string words = joints("", false);
  CHECK(words.find("yokes in line; together they disturb like one joint at 4.5 deg: 0.30 % of speed, twice a turn") !=
        std::string::npos);
  CHECK(words.find("make both joint angles alike") != std::string::npos);
  CHECK(words.find("no weight removes what comes twice a turn") != std::string::npos);
  // A quarter turn between the yokes adds the squares: √(6² + 4²) = 7.21 deg.
  const std::string wrong = joints("yoke_phase = \"90 deg\"\n", false);
  CHECK(wrong.find("yokes NOT in line, set them in line; together they disturb like one joint at 7.2 deg") !=
        std::string::npos);
}
