#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "support.hpp"

using namespace counterspot::test;
using Json = nlohmann::json;

TEST_CASE("limit prints the standard's limit as JSON with the keys other programs rely on") {
  Ran ran =
      run_program({"limit", "--grade", "G16", "--mass", "14.6kg", "--speed", "3200rpm", "--share-a", "0.45", "--json"});
  REQUIRE(ran.exit_code == 0);
  Json json = Json::parse(ran.out);
  CHECK(json["grade"] == "G16");
  // ISO 21940-11: 1000·G·m/Ω = 1000·16·14.6/335.103 = 697.10 g·mm; e_per = 16/335.1032 mm = 47.7465 um.
  CHECK(json["total_gmm"].get<double>() == Approx(697.10).epsilon(1e-5));
  CHECK(json["specific_um"].get<double>() == Approx(47.7465).epsilon(1e-5));
  CHECK(json["planes"][0]["name"] == "A");
  CHECK(json["planes"][0]["limit_gmm"].get<double>() == Approx(0.45 * 697.10).epsilon(1e-5));
  CHECK(ran.err.empty());
}

TEST_CASE("limit for people has units on every number and the next action last") {
  Ran ran = run_program({"limit", "--shaft", source_file("tests/broken/files/shaft.toml").string()});
  REQUIRE(ran.exit_code == 0);
  CHECK(ran.out.find("697.1 g·mm") != std::string::npos);
  CHECK(ran.out.find("0.968 oz·in") != std::string::npos);
  CHECK(ran.out.rfind("NEXT") > ran.out.rfind("support B"));
}

TEST_CASE("every command has help with an example") {
  for (const char* command : {"inspect", "track", "solve", "limit", "completion"}) {
    CAPTURE(command);
    Ran ran = run_program({command, "--help"});
    CHECK(ran.exit_code == 0);
    CHECK(ran.out.find("Example") != std::string::npos);
    CHECK(ran.out.find(std::string("counterspot ") + command) != std::string::npos);
  }
}
