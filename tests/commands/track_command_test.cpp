#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>

#include "support.hpp"

using namespace counterspot::test;
using nlohmann::json;

namespace {

constexpr double full_turn_rad = 6.283185307179586;
constexpr double rate_Hz = 1000.0;
constexpr double speed_Hz = 25.0;

/// Order 1 of both sensors in the first 4 s, order 3 at sensor A in the last 4 s, 8 s in all, the tach last.
std::string spin_csv(double at_a, double at_b, bool order_3_later = false) {
  std::string csv = "time (s),front (m/s2),rear (m/s2),tach (V)\n";
  for (int n = 0; n < 8000; ++n) {
    const double t = n / rate_Hz;
    const double turns = 0.4 + speed_Hz * t;
    const double place = turns - std::floor(turns);
    const double third = order_3_later && t > 4.0 ? std::cos(3.0 * full_turn_rad * turns) : 0.0;
    csv += std::to_string(t) + "," + std::to_string(at_a * std::cos(full_turn_rad * turns - 0.5) + third) + "," +
           std::to_string(at_b * std::cos(full_turn_rad * turns - 2.0)) + "," + (place < 0.2 ? "5" : "0") + "\n";
  }
  return csv;
}

struct Bay {
  TemporaryFolder folder;
  Bay() {
    write_file(folder / "rig.toml",
               "[rig]\nname = \"bay 2\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n"
               "[tach]\nchannel = \"tach\"\n"
               "[[sensor]]\nname = \"A\"\nchannel = \"front\"\nsensitivity = \"100 mV/g\"\n"
               "[[sensor]]\nname = \"B\"\nchannel = \"rear\"\nsensitivity = \"100 mV/g\"\n");
  }
  Ran track(std::vector<std::string> more) const {
    more.insert(more.begin(), {"track", "--rig", "rig.toml"});
    return run_program(more, "/dev/null", folder.path());
  }
};

bool warned_of(const json& track, const std::string& code) {
  for (const json& warning : track.at("warnings"))
    if (warning.at("code") == code) return true;
  return false;
}

}  // namespace

TEST_CASE("held against an earlier spin, exchanged, turned over and ten times weaker sensors are named") {
  const Bay bay;
  write_file(bay.folder / "earlier.csv", spin_csv(4.0, 1.0));
  write_file(bay.folder / "same.csv", spin_csv(4.0, 1.0));
  write_file(bay.folder / "turned-over.csv", spin_csv(4.0, -1.0));
  write_file(bay.folder / "tenth.csv", spin_csv(0.4, 1.0));
  const auto seen = [&](const std::string& file) {
    const Ran ran = bay.track({file, "--against", "earlier.csv", "--json"});
    REQUIRE(ran.exit_code == 0);
    return json::parse(ran.out);
  };
  for (const std::string code : {"swapped_sensors", "inverted_polarity", "wrong_sensitivity"})
    CHECK_FALSE(warned_of(seen("same.csv"), code));
  CHECK(warned_of(seen("turned-over.csv"), "inverted_polarity"));
  CHECK(warned_of(seen("tenth.csv"), "wrong_sensitivity"));
  std::string exchanged = spin_csv(4.0, 1.0);
  exchanged.replace(exchanged.find("front (m/s2),rear"), 17, "rear (m/s2),front");
  write_file(bay.folder / "exchanged.csv", exchanged);
  CHECK(warned_of(seen("exchanged.csv"), "swapped_sensors"));
}

TEST_CASE("an earlier spin that is not there is refused") {
  const Bay bay;
  write_file(bay.folder / "spin.csv", spin_csv(4.0, 1.0));
  const Ran ran = bay.track({"spin.csv", "--against", "nowhere.csv"});
  CHECK(ran.exit_code == 3);
  CHECK(ran.out.empty());
  CHECK_THAT(ran.err, Catch::Contains("nowhere.csv"));
}

TEST_CASE("the picture of a part of a recording shows that part") {
  const Bay bay;
  const Bay without;
  write_file(bay.folder / "spin.csv", spin_csv(4.0, 1.0, true));
  write_file(without.folder / "spin.csv", spin_csv(4.0, 1.0));
  REQUIRE(bay.track({"spin.csv", "--to", "3.9s", "--picture", "part.svg"}).exit_code == 0);
  REQUIRE(bay.track({"spin.csv", "--picture", "whole.svg"}).exit_code == 0);
  REQUIRE(without.track({"spin.csv", "--to", "3.9s", "--picture", "part.svg"}).exit_code == 0);
  CHECK(read_file(bay.folder / "part.svg") == read_file(without.folder / "part.svg"));
  CHECK(read_file(bay.folder / "part.svg") != read_file(bay.folder / "whole.svg"));
}

TEST_CASE("a spin of few turns is drawn as well, with lines further apart") {
  const Bay bay;
  write_file(bay.folder / "spin.csv", spin_csv(4.0, 1.0));
  CHECK(bay.track({"spin.csv", "--to", "0.3s", "--picture", "short.svg"}).exit_code == 0);
}

// GUM 5.1.2: independent contributions add in squares.
TEST_CASE("what counts in the budget of a spin adds up to its uncertainty") {
  const auto data = source_file("data");
  const std::vector<std::string> ask{"track", "--rig", "rig.toml", "00-as-found.flac", "--budget"};
  auto ask_json = ask;
  ask_json.push_back("--json");
  const Ran ran = run_program(ask_json, "/dev/null", data);
  REQUIRE(ran.exit_code == 0);
  const json track = json::parse(ran.out);
  for (const json& sensor : track.at("sensors")) {
    const json& order = sensor.at("orders").at(0);
    double amplitude = 0.0;
    double phase = 0.0;
    for (const json& item : order.at("budget")) {
      if (!item.at("counted").get<bool>()) continue;
      amplitude = std::hypot(amplitude, item.at("u_amplitude").get<double>());
      phase = std::hypot(phase, item.at("u_phase_lag_deg").get<double>());
    }
    CHECK(amplitude > 0.0);
    CHECK(amplitude == Approx(order.at("u_amplitude").get<double>()).epsilon(1e-9));
    CHECK(phase == Approx(order.at("u_phase_lag_deg").get<double>()).epsilon(1e-9));
  }
  const std::string words = run_program(ask, "/dev/null", data).out;
  CHECK(words.find("noise beside the order") != std::string::npos);
  CHECK(words.find("1 % of speed changes it by") != std::string::npos);
}
