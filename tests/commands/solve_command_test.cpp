#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <nlohmann/json.hpp>

#include "demo_files.hpp"
#include "support.hpp"

using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

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
    write_file(folder / "rig.toml", rig_toml());
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

TEST_CASE("what people read says what to fit and where, cautions once, warnings apart") {
  Ran ran = Raos().solve(false);
  CHECK(ran.out.find("fit   285.1 g  at  10:51") != std::string::npos);
  CHECK(ran.out.find("by tape 24 mm with rotation from the mark") != std::string::npos);
  CHECK(ran.out.find("VERDICT  outside") != std::string::npos);
  CHECK(ran.out.find("CAUTION") != std::string::npos);
  CHECK(ran.out.find("CAUTION") == ran.out.rfind("CAUTION"));
  CHECK(ran.err.find("warning: ") == 0);
  Ran done = Raos(" ± 0.05 mm/s", verify_spin).solve(false);
  CHECK(done.out.find("VERDICT  within") != std::string::npos);
  CHECK(done.out.find("  fit ") == std::string::npos);
  CHECK(done.out.find("CAUTION") == std::string::npos);
}

TEST_CASE("with a trial weight on, people read first what to fit with it off, and beside it what on top of it") {
  // Of Rao's example the trial at A is the last spin: 10 oz at 270 deg come off; what belongs on the shaft is printed.
  const Raos files;
  const std::string text = raos_spins("", "");
  const auto as_found = text.find("[[spin]]\nlabel = \"as found\"");
  const auto left = text.find("[[spin]]\nlabel = \"left\"");
  const auto right = text.find("[[spin]]\nlabel = \"right\"");
  write_file(files.folder / "spins.toml", text.substr(0, left) + text.substr(as_found) +
                                              text.substr(right, as_found - right) + text.substr(left, right - left));
  const Json json = Json::parse(files.solve(true).out);
  const Json bare = json["planes"][0]["correction_bare"];
  CHECK(bare["mass_g"].get<double>() == Approx(10.0561 * 28.349523125).epsilon(1e-5));
  CHECK(bare["angle_deg"].get<double>() == Approx(325.5548).margin(1e-4));
  CHECK(json["planes"][1]["correction_bare"]["mass_g"].get<double>() == Approx(5.8774 * 28.349523125).epsilon(1e-5));
  // Pencil: 10.0561 at 325.5548 deg less 10 at 270 deg is (8.2932, 4.3123): 9.3470 at 27.473 deg.
  const Json on_top = json["planes"][0]["correction"];
  CHECK(on_top["mass_g"].get<double>() == Approx(9.3470 * 28.349523125).epsilon(1e-4));
  CHECK(on_top["angle_deg"].get<double>() == Approx(27.473).margin(1e-2));
  REQUIRE(json["trial_weights_on"].size() == 1);
  CHECK(json["trial_weights_on"][0]["plane"] == "A");
  const std::string out = files.solve(false).out;
  const auto off = out.find("First take the trial weights off (283.5 g at 270 deg on A)");
  const auto first = out.find("fit   285.1 g  at  10:51");
  const auto other = out.find("OR leave the trial weights on, and fit on top of them instead:");
  CHECK(off < first);
  CHECK(first < other);
  CHECK(other < out.find("265.0 g  at  12:55", other));
  CHECK(out.find("Fit one of the two") != std::string::npos);
}

namespace {

/// Forty turns at 20 a second; order 1 of `first` at its lag, order 2 of `second`.
std::string spin_csv(std::complex<double> first, double second) {
  std::string text = "a (m/s2),tach (V)\n";
  for (int i = 0; i < 2000; ++i) {
    const double turns = 20.0 * i / 1000.0 + 0.013;
    const double angle = 2.0 * M_PI * (turns - std::floor(turns));
    const double x = std::abs(first) * std::cos(angle - std::arg(first)) + second * std::cos(2.0 * angle);
    text += fmt::format("{:.6f},{}\n", x, angle < 0.6 ? 5 : 0);
  }
  return text;
}

struct Order2Spins {
  TemporaryFolder folder;
  /// Order 1 as found is `first`, which a trial of 10 g at 0 deg makes larger by 1 m/s2.
  Order2Spins(double first, double second, const std::string& joints) {
    write_file(
        folder / "rig.toml",
        "[rig]\nname = \"bay 2\"\nrotation = \"clockwise\"\nviewing_end = \"A\"\nsample_rate = \"1 kHz\"\n[tach]\n"
        "channel = \"tach\"\n[[sensor]]\nname = \"A\"\nchannel = \"a\"\nsensitivity = \"100 mV/(m/s2)\"\n");
    write_file(folder / "shaft.toml",
               "[shaft]\nid = \"x\"\nlimit = { A = \"40 g·mm\" }\n[[plane]]\nname = \"A\"\n"
               "position = \"0 mm\"\nradius = \"40 mm\"\n" +
                   joints);
    write_file(folder / "0.csv", spin_csv(first, second));
    write_file(folder / "1.csv", spin_csv(first + 1.0, second));
    write_file(folder / "spins.toml",
               "rig = \"rig.toml\"\nshaft = \"shaft.toml\"\n[[spin]]\nlabel = \"trial\"\nrecording = \"1.csv\"\n"
               "fitted = [ { plane = \"A\", mass = \"10 g\", angle = \"0 deg\" } ]\n"
               "[[spin]]\nlabel = \"as found\"\nrecording = \"0.csv\"\n");
  }
  std::vector<std::string> said(const std::vector<std::string>& arguments) const {
    std::vector<std::string> words;
    const Ran ran = run_program(arguments, "/dev/null", folder.path());
    const Json document = Json::parse(ran.out);
    for (const Json& warning : document["warnings"])
      if (warning["code"] == "order_2_dominant") words.push_back(warning["message"]);
    return words;
  }
  std::vector<std::string> solved() const { return said({"solve", "spins.toml", "--json"}); }
};

}  // namespace

// At 40 Hz 1.2 m/s2 are 3.4 mm/s rms, 0.9 m/s2 are 2.5: over and under the 2.8 mm/s of ISO 20816-3 (from memory).
TEST_CASE("a large order 2 is laid to joints and phasing, by the shaft's own joints, however large order 1 is") {
  const Order2Spins told(1.0, 1.2, "[joints]\nangle_A = \"6 deg\"\nangle_B = \"6 deg\"\nyoke_phase = \"20 deg\"\n");
  const auto words = told.solved();
  REQUIRE(words.size() == 1);  // one entry for a cause
  CHECK(words[0].find("sensor A: order 2 alone is 3.4 mm/s rms, more than 2.8") == 0);
  // |6² − 6²·e^{j40°}|^½ = 6·√(2·sin 20°) = 4.96 deg; (4.96·π/180)²/2 = 0.375 %.
  CHECK_THAT(
      words[0],
      Catch::EndsWith("order 2 comes from the joints, not from unbalance: the shaft file has joints at 6.0 and 6.0 deg "
                      "and yokes 20 deg out of line, "
                      "which disturbs like one joint at 5.0 deg, 0.38 % of speed twice a turn: set the yokes in line"));
  const auto untold = Order2Spins(4.0, 1.2, "").solved();
  REQUIRE(untold.size() == 1);
  CHECK(untold[0].find("as [joints] in the shaft file") != std::string::npos);
  CHECK(Order2Spins(0.2, 0.9, "").solved().empty());  // four times order 1, which is nearly balanced away
}

TEST_CASE("track and job say a large order 2 as well") {
  const Order2Spins shop(1.0, 1.2, "[joints]\nangle_A = \"6 deg\"\nangle_B = \"2 deg\"\n");
  CHECK(shop.said({"track", "0.csv", "--rig", "rig.toml", "--orders", "1,2", "--json"}).size() == 1);
  run_program({"job", "open", "shaft.toml", "--rig", "rig.toml", "--log", "log.db"}, "/dev/null", shop.folder.path());
  const Ran ran = run_program({"job", "spin", "0.csv", "--log", "log.db"}, "/dev/null", shop.folder.path());
  CHECK(ran.err.find("which disturbs like one joint at 5.7 deg") != std::string::npos);  // √(36 − 4)
  CHECK(ran.err.find("make both joint angles alike") != std::string::npos);
}
