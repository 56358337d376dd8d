#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "support.hpp"

using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

const char* const rig_text = R"toml([rig]
name = "bay 2"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
[[sensor]]
name = "B"
channel = 2
sensitivity = "100 mV/g"
)toml";

const char* const shaft_text = R"toml([shaft]
id = "turbine rotor"
limit = { A = "1 oz·in", B = "1 oz·in" }
[tube]
outside_diameter = "80 mm"
wall = "2 mm"
length = "1 m"
[[plane]]
name = "A"
position = "0 mm"
radius = "1 in"
[[plane]]
name = "B"
position = "900 mm"
radius = "1 in"
)toml";

/// S. S. Rao, Mechanical Vibrations, two-plane example (from memory); its weights taken as ounces at 1 in. `u` is added
/// to each.
std::string raos_spins(const std::string& u, const std::string& verify) {
  return R"toml(rig = "rig.toml"
shaft = "shaft.toml"
[[spin]]
label = "left"
vector = { A = "6.0 mm/s @ 125 deg)toml" +
         u + R"toml(", B = "4.5 mm/s @ 230 deg)toml" + u + R"toml(" }
fitted = [ { plane = "A", mass = "10 oz", angle = "270 deg" } ]
[[spin]]
label = "right"
vector = { A = "6.0 mm/s @ 35 deg)toml" +
         u + R"toml(", B = "10.5 mm/s @ 160 deg)toml" + u + R"toml(" }
fitted = [ { plane = "B", mass = "12 oz", angle = "180 deg" } ]
[[spin]]
label = "as found"
vector = { A = "8.5 mm/s @ 60 deg)toml" +
         u + R"toml(", B = "6.5 mm/s @ 205 deg)toml" + u + R"toml(" }
)toml" + verify;
}

struct Raos {
  TemporaryFolder folder;
  explicit Raos(const std::string& u = "", const std::string& verify = "") {
    write_file(folder / "rig.toml", rig_text);
    write_file(folder / "shaft.toml", shaft_text);
    write_file(folder / "spins.toml", raos_spins(u, verify));
  }
  Ran solve(bool json) const {
    std::vector<std::string> arguments = {"solve", (folder / "spins.toml").string()};
    if (json) arguments.emplace_back("--json");
    return run_program(arguments);
  }
};

const char* const verify_spin = R"toml([[spin]]
label = "verify"
vector = { A = "0.1 mm/s @ 60 deg ± 0.05 mm/s", B = "0.1 mm/s @ 205 deg ± 0.05 mm/s" }
fitted = [ { plane = "A", mass = "10.0561 oz", angle = "325.5548 deg" }, { plane = "B", mass = "5.8774 oz", angle = "68.2559 deg" } ]
)toml";

}  // namespace

TEST_CASE("hand-typed vectors give Rao's correction in the operator's words") {
  Raos files;
  Ran ran = files.solve(true);
  REQUIRE(ran.exit_code == 1);  // outside its limit
  Json json = Json::parse(ran.out);
  CHECK(json["verdict"] == "outside");
  CHECK(json["speed_rpm"].is_null());
  Json a = json["planes"][0];
  Json b = json["planes"][1];
  // Printed: 10.0561 at 325.5548 deg and 5.8774 at 68.2559 deg; 1 oz is 28.349523125 g.
  CHECK(a["correction"]["mass_g"].get<double>() == Approx(10.0561 * 28.349523125).epsilon(1e-5));
  CHECK(a["correction"]["angle_deg"].get<double>() == Approx(325.5548).margin(1e-4));
  CHECK(b["correction"]["mass_g"].get<double>() == Approx(5.8774 * 28.349523125).epsilon(1e-5));
  CHECK(b["correction"]["angle_deg"].get<double>() == Approx(68.2559).margin(1e-4));
  // Pencil: 325.55 deg is 651.1 minutes of 720 on the clock, 10:51; the tape goes 34.45 deg with rotation on a 40 mm
  // radius.
  CHECK(a["correction"]["clock"] == "10:51");
  CHECK(a["correction"]["arc_direction"] == "with rotation");
  CHECK(a["correction"]["arc_mm"].get<double>() == Approx(24.048).epsilon(1e-4));
  CHECK(a["correction"]["action"] == "add");
  CHECK(a["residual_angle_deg"].get<double>() == Approx(145.5548).margin(1e-4));
  CHECK(a["u_residual_gmm"].is_null());
  CHECK(json["warnings"][0]["code"] == "no_uncertainty");
  CHECK(json["coefficients"][2]["sensor"] == "B");
  CHECK(json["coefficients"][2]["plane"] == "A");
  CHECK(json["coefficients"][2]["phase_lag_deg"].get<double>() == Approx(76.8562).margin(1e-4));
  CHECK(json["coefficients"][2]["unit"] == "(mm/s)/(g·mm)");
  CHECK(json["coefficients"][2]["magnitude"].get<double>() == Approx(0.307912 / 720.0779).epsilon(1e-5));
}

TEST_CASE("with a typed uncertainty the answer has one, and a good verify spin is within") {
  Ran ran = Raos(" ± 0.05 mm/s", verify_spin).solve(true);
  Json json = Json::parse(ran.out);
  CHECK(ran.exit_code == 0);
  CHECK(json["verdict"] == "within");
  CHECK(json["planes"][0]["u_residual_gmm"].get<double>() > 0.0);
  CHECK(json["planes"][0]["u_residual_vector"].size() == 2);
  for (const Json& warning : json["warnings"]) CHECK(warning["code"] != "no_uncertainty");
}

TEST_CASE("what people read says what to weld and where, cautions once, warnings apart") {
  Ran ran = Raos().solve(false);
  CHECK(ran.out.find("weld  285.1 g  at  10:51") != std::string::npos);
  CHECK(ran.out.find("by tape 24 mm with rotation from the mark") != std::string::npos);
  CHECK(ran.out.find("VERDICT  outside") != std::string::npos);
  CHECK(ran.out.find("CAUTION") != std::string::npos);
  CHECK(ran.out.find("CAUTION") == ran.out.rfind("CAUTION"));
  CHECK(ran.err.find("warning: ") == 0);
  Ran done = Raos(" ± 0.05 mm/s", verify_spin).solve(false);
  CHECK(done.out.find("VERDICT  within") != std::string::npos);
  CHECK(done.out.find("weld") == std::string::npos);
  CHECK(done.out.find("CAUTION") == std::string::npos);
}
