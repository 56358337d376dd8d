#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <nlohmann/json.hpp>

#include "run_up.hpp"
#include "support.hpp"

using namespace counterspot::test;
using nlohmann::json;

namespace {

struct RunUpFiles {
  TemporaryFolder folder;
  RunUpFiles() { write_run_up(folder); }
  Ran run(std::vector<std::string> more) const {
    more.insert(more.begin(), {"sweep", "run-up.csv", "--rig", "rig.toml"});
    return run_program(more, "/dev/null", folder.path());
  }
};

}  // namespace

TEST_CASE("sweep gives an order spectrum as text, CSV and JSON") {
  const RunUpFiles files;
  const Ran as_json = files.run({"--order-spectrum", "--highest-order", "4", "--json"});
  REQUIRE(as_json.exit_code == 0);
  const json document = json::parse(as_json.out);
  const json& sensor = document.at("sensors").at(0);
  CHECK(sensor.at("unit") == "m/s2");
  CHECK(sensor.at("amplitudes").size() == 41);
  CHECK(sensor.at("amplitudes").at(10).get<double>() == Approx(2.0).epsilon(0.01));
  CHECK(sensor.at("amplitudes").at(20).get<double>() == Approx(0.5).epsilon(0.03));
  const Ran as_csv = files.run({"--order-spectrum", "--highest-order", "4", "--csv"});
  CHECK(as_csv.out.substr(0, 20) == "order,A_peak (m/s2)\n");
  CHECK(std::count(as_csv.out.begin(), as_csv.out.end(), '\n') == 42);
  const Ran as_text = files.run({"--order-spectrum", "--highest-order", "4"});
  CHECK_THAT(as_text.out, Catch::Contains("SENSOR A    order 1") && Catch::Contains("NEXT"));
}

TEST_CASE("sweep gives a map over speed and frequency as text, CSV and JSON") {
  const RunUpFiles files;
  const Ran as_json = files.run({"--map", "--highest-frequency", "50 Hz", "--json"});
  REQUIRE(as_json.exit_code == 0);
  const json document = json::parse(as_json.out);
  const json& rows = document.at("sensors").at(0).at("amplitudes");
  const auto lines = static_cast<std::size_t>(50.0 / document.at("frequency_step_hz").get<double>()) + 1;
  REQUIRE(rows.size() == document.at("speeds_rpm").size());
  CHECK(rows.at(0).size() == lines);
  const Ran as_csv = files.run({"--map", "--highest-frequency", "50 Hz", "--csv"});
  CHECK(as_csv.out.substr(0, 45) == "time_s,speed_rpm,frequency_hz,A_peak (m/s2)\n0");
  CHECK(static_cast<std::size_t>(std::count(as_csv.out.begin(), as_csv.out.end(), '\n')) == rows.size() * lines + 1);
  CHECK_THAT(files.run({"--map"}).out, Catch::Contains("order 1.0") && Catch::Contains("NEXT"));
  CHECK(files.run({"--map", "--order-spectrum"}).exit_code == 2);
  CHECK(files.run({"--order-step", "0.5"}).exit_code == 2);
}

TEST_CASE("sweep speaks of resonances of rig and shaft, and claims none that does not stand out") {
  const RunUpFiles files;
  const Ran plain = files.run({});
  REQUIRE(plain.exit_code == 0);
  CHECK_THAT(plain.out, Catch::Contains("no resonance stands out between") && Catch::Contains("sweep slower") &&
                            !Catch::Contains("critical speed"));
  const json without = json::parse(files.run({"--json"}).out);
  CHECK(without.at("resonances").empty());
  CHECK(without.at("critical_speeds").empty());
  CHECK(without.at("fixed_lines").empty());

  // order 1 of a mode with ω_n = 15 Hz and 3 % damping at each speed (closed form), 40 s long: slow enough to follow
  write_run_up(files.folder, {40.0, [](double t, double turns) {
                                const double r = (10.0 + 0.25 * t) / 15.0;
                                const std::complex<double> response =
                                    r * r * r * r / std::complex<double>(1.0 - r * r, 2.0 * 0.03 * r);
                                return (response * std::polar(1.0, full_turn_rad * turns)).real();
                              }});
  const Ran ran = files.run({});
  CHECK_THAT(ran.out, Catch::Contains("resonance speed ") && Catch::Contains("±") &&
                          Catch::Contains("resonances of rig and shaft together, not critical speeds of the shaft") &&
                          Catch::Contains("`counterspot shaft`") && Catch::Contains("do not dwell between"));
  const json document = json::parse(files.run({"--json"}).out);
  const json& found = document.at("resonances").at(0);
  CHECK(found.at("of") == "rig and shaft together");
  CHECK(found.at("speed_rpm").get<double>() == Approx(900.0).epsilon(0.01));
  CHECK(document.at("critical_speeds").at(0).at("speed_rpm") == found.at("speed_rpm"));
}

TEST_CASE("a steady line is named and taken off, and a person may name it or forbid it") {
  const RunUpFiles files;
  write_run_up(files.folder, {20.0, [](double t, double turns) {
                                return 0.2 * std::cos(full_turn_rad * turns) + 3.0 * std::cos(full_turn_rad * 16.7 * t);
                              }});
  const Ran ran = files.run({});
  CHECK_THAT(ran.err, Catch::Contains("a steady line at 16.7 Hz"));
  CHECK_THAT(ran.out, Catch::Contains("no resonance stands out"));
  CHECK(json::parse(files.run({"--line", "16.7 Hz", "--json"}).out).at("fixed_lines").size() == 1);
  CHECK(json::parse(files.run({"--no-lines", "--json"}).out).at("fixed_lines").empty());
  CHECK(files.run({"--line", "16.7 Hz", "--no-lines"}).exit_code == 2);
  CHECK(files.run({"--line", "-3 Hz"}).exit_code == 2);
}
