// `solve` for harder shafts: limits on weights, a shaft turned against its adapters, a dead tach.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>

#include "support.hpp"

using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

const std::string rig = R"([rig]
name = "bay 2"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 2
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
)";

/// One plane, one sensor; supports as far from the plane on either side.
const std::string shaft = R"([shaft]
id = "PS-9"
limit = { A = "300 g·mm" }
[supports]
A = "0 mm"
B = "1000 mm"
[[plane]]
name = "A"
position = "500 mm"
radius = "40 mm"
)";

std::string spins_file(const TemporaryFolder& folder, const std::string& spins) {
  write_file(folder / "rig.toml", rig);
  write_file(folder / "shaft.toml", shaft);
  return write_file(folder / "spins.toml", "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n" + spins).string();
}

/// One mm/s a g at the plane's radius, without lag: the vector is the weight. As found 20 g at 30 deg.
const std::string typed = R"([[spin]]
label = "trial"
vector = { A = "31.7371 mm/s @ 18.3664 deg ± 0.01 mm/s" }
fitted = [ { plane = "A", mass = "12.8 g", angle = "0 deg" } ]
[[spin]]
label = "as found"
vector = { A = "20 mm/s @ 30 deg ± 0.01 mm/s" }
)";

Json json_of(const Ran& ran) {
  INFO(ran.err);
  REQUIRE(ran.exit_code == 1);
  return Json::parse(ran.out);
}

}  // namespace

TEST_CASE("a correction is no heavier than allowed, and what it will leave is said") {
  const TemporaryFolder folder;
  const std::string spins = spins_file(folder, typed);
  for (const char* least : {"squares", "worst"}) {
    const Json solved = json_of(run_program({"solve", spins, "--at-most", "5 g", "--least", least, "--json"}));
    const Json& plane = solved["planes"][0];
    CHECK(plane["correction"]["mass_g"].get<double>() == Approx(5.0).epsilon(1e-4));
    // 20 g less 5 g, at 40 mm; the trial's 1 % and 1 deg add little.
    CHECK(plane["predicted_residual_gmm"].get<double>() == Approx(600.0).epsilon(0.02));
    CHECK(solved["speeds"][0]["sensors"][0]["expected_amplitude"].get<double>() == Approx(15.0).epsilon(0.01));
  }
}

TEST_CASE("adapters found with the shaft turned are kept in the log and taken away from the next spins") {
  const TemporaryFolder folder;
  const std::string log = (folder / "log.db").string();
  // 8 g of it is the adapters', at 0 deg of their mark: turned by half a turn the reading is 20∠30° − 16.
  const double re = 20.0 * std::cos(M_PI / 6) - 16.0;
  const double im = 10.0;
  auto vector = [](double x, double y) {
    return fmt::format("vector = {{ A = \"{:.6f} mm/s @ {:.6f} deg ± 0.01 mm/s\" }}\n", std::hypot(x, y),
                       std::atan2(y, x) * 180.0 / M_PI);
  };
  std::string before;
  for (const char* head : {"[[spin]]\nlabel = \"trial\"\n", "[[spin]]\nlabel = \"as found\"\n"}) {
    const bool trial = before.empty();
    before += head + vector(20.0 * std::cos(M_PI / 6) + (trial ? 12.8 : 0.0), 10.0) + "turned = \"0 deg\"\n";
    if (trial) before += "fitted = [ { plane = \"A\", mass = \"12.8 g\", angle = \"0 deg\" } ]\n";
  }
  const std::string turned = "[[spin]]\nlabel = \"turned\"\n" + vector(re, im) + "turned = \"180 deg\"\n";
  const Json found =
      json_of(run_program({"solve", spins_file(folder, turned + before), "--log", log, "--keep-adapters", "--json"}));
  CHECK(found["adapters"][0]["unbalance_gmm"].get<double>() == Approx(320.0).epsilon(0.01));
  const double shaft_alone = 40.0 * std::hypot(20.0 * std::cos(M_PI / 6) - 8.0, 10.0);
  CHECK(found["planes"][0]["residual_gmm"].get<double>() == Approx(shaft_alone).epsilon(0.01));

  const Ran without = run_program({"solve", spins_file(folder, before), "--json"});
  CHECK(json_of(without)["planes"][0]["residual_gmm"].get<double>() == Approx(800.0).epsilon(0.01));
  // With one plane two ends cannot be told apart: refused, not guessed.
  const Ran one_plane = run_program({"solve", spins_file(folder, before), "--log", log, "--json"});
  CHECK(one_plane.exit_code == 2);
  CHECK(one_plane.err.find("adapters at two ends cannot be expressed in one plane") != std::string::npos);
}

TEST_CASE("keeping adapters without having turned the shaft is refused") {
  const TemporaryFolder folder;
  const Ran ran =
      run_program({"solve", spins_file(folder, typed), "--log", (folder / "log.db").string(), "--keep-adapters"});
  CHECK(ran.exit_code == 2);
  CHECK(ran.err.find("the spins do not turn the shaft against its adapters") != std::string::npos);
}

TEST_CASE("with a dead tach three positions give the weight, and two positions both weights that they allow") {
  const TemporaryFolder folder;
  // The circles of tests/influence/amplitude_only_test.cpp, in mm/s: 9.9977 g at 144.99 deg with trials of 12 g.
  std::string spins;
  auto add = [&](const char* amplitude, const char* angle) {
    spins += fmt::format("[[spin]]\nlabel = \"spin {}\"\namplitude = {{ A = \"{} mm/s ± 0.01 mm/s\" }}\n", amplitude,
                         amplitude);
    if (angle[0] != '\0')
      spins += fmt::format("fitted = [ {{ plane = \"A\", mass = \"12 g\", angle = \"{} deg\" }} ]\n", angle);
  };
  add("5.51", "0");
  add("17.19", "120");
  const std::string two = spins + "[[spin]]\nlabel = \"as found\"\namplitude = { A = \"8.0 mm/s ± 0.01 mm/s\" }\n";
  add("11.95", "240");
  add("8.0", "");
  const Json three = json_of(run_program({"solve", spins_file(folder, spins), "--no-phase", "--json"}));
  REQUIRE(three["answers"].size() == 1);
  const Json& fit = three["answers"][0]["planes"][0]["correction"];
  CHECK(fit["mass_g"].get<double>() == Approx(9.9977).epsilon(0.003));
  CHECK(fit["angle_deg"].get<double>() == Approx(324.99).margin(0.3));
  const Ran both = run_program({"solve", spins_file(folder, two), "--no-phase"});
  CHECK(both.exit_code == 1);
  CHECK(both.out.find("2 ANSWERS fit the amplitudes") != std::string::npos);
  CHECK(both.out.find("one more spin with the trial weight at a position not used yet") != std::string::npos);
  CHECK(both.out.find("CAUTION") != std::string::npos);
}
