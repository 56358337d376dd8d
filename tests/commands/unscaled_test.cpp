// A rig whose sensors nobody has a certificate of: every command works, shows volts, and claims no motion.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>

#include "support.hpp"

using namespace counterspot::test;
using nlohmann::json;

namespace {

/// The demo's shop, its rig's sensitivities unknown: of both sensors, or of B alone.
struct UnscaledShop {
  explicit UnscaledShop(int sensors = 2) {
    for (const auto& entry : std::filesystem::directory_iterator(source_file("data")))
      if (entry.is_regular_file()) std::filesystem::copy_file(entry.path(), folder / entry.path().filename().string());
    std::string rig = read_file(folder / "rig.toml");
    const std::string known = "\"100 mV/g\"";
    for (int i = 0; i < sensors; ++i) rig.replace(rig.rfind(known), known.size(), "\"unknown\"");
    write_file(folder / "rig.toml", rig);
  }

  Ran run(const std::vector<std::string>& arguments) const {
    return run_program(arguments, "/dev/null", folder.path());
  }
  std::string line_of(const std::vector<std::string>& arguments) const {
    std::string line;
    for (const std::string& argument : arguments) line += argument + " ";
    return line;
  }

  /// Runs a command, and looks for a unit of motion in all that it says and writes. A sheet has micrometres: of its
  /// permissible unbalance, over the mass.
  Ran in_volts(const std::vector<std::string>& arguments, const std::string& written = "") const {
    const Ran ran = run(arguments);
    std::string text = ran.out + ran.err + (written.empty() ? "" : read_file(folder / written));
    if (arguments.front() == "sheet") text = std::regex_replace(text, std::regex("\xC2\xB5m"), "");
    std::smatch found;
    const bool moves = std::regex_search(text, found, std::regex("m/s2|m/s\xC2\xB2|mm/s|\xC2\xB5m|[0-9] um\\b|\"um\""));
    INFO(line_of(arguments) << "\n" << text.substr(0, 4000));
    CHECK(ran.exit_code <= 1);
    CAPTURE(found.str());
    CHECK_FALSE(moves);
    return ran;
  }
  void write_run_up() const {
    std::string csv = "time (s),accel (V),tach (V)\n";
    for (int n = 0; n < 10000; ++n) {
      const double t = n / 500.0;
      const double turns = 0.4 + 10.0 * t + 0.25 * t * t;
      const double place = turns - std::floor(turns);
      csv += std::to_string(t) + "," + std::to_string(2.0 * std::cos(6.283185307179586 * turns)) + "," +
             (place < 0.2 ? "5" : "0") + "\n";
    }
    write_file(folder / "run-up.csv", csv);
    write_file(folder / "one.toml",
               "[rig]\nname = \"one\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n[tach]\nchannel = "
               "\"tach\"\n[[sensor]]\nname = \"A\"\nchannel = \"accel\"\nsensitivity = \"-unknown\"\n");
  }

  TemporaryFolder folder;
};

bool holds(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("no command shows a unit of motion where no sensitivity is known") {
  const UnscaledShop shop;
  CHECK(holds(shop.in_volts({"inspect", "00-as-found.flac", "--rig", "rig.toml"}).out, " V"));
  shop.in_volts({"inspect", "00-as-found.flac", "--rig", "rig.toml", "--json"});
  CHECK(holds(shop.in_volts({"track", "00-as-found.flac", "--rig", "rig.toml", "--budget"}).out, " V"));
  const Ran track = shop.in_volts({"track", "00-as-found.flac", "--rig", "rig.toml", "--orders", "1,2", "--json"});
  CHECK(json::parse(track.out)["sensors"][0]["unit"] == "V");
  shop.in_volts({"track", "00-as-found.flac", "--rig", "rig.toml", "--picture", "orders.svg"}, "orders.svg");
  shop.in_volts({"track", "00-as-found.flac", "--rig", "rig.toml", "--out", "spins.csv"}, "spins.csv");
  shop.in_volts({"track", "00-as-found.flac", "--rig", "rig.toml", "--out", "spins.uff"}, "spins.uff");
  shop.in_volts({"solve", "spins.toml"});
  shop.in_volts({"solve", "spins.toml", "--json"});
  shop.in_volts({"solve", "spins.toml", "--picture", "planes.svg"}, "planes.svg");
  shop.in_volts({"job", "open", "shaft.toml", "--rig", "rig.toml", "--log", "log.db"});
  shop.in_volts({"job", "spin", "00-as-found.flac", "--log", "log.db"});
  shop.in_volts({"job", "fit", "A 15 g @ 0 deg", "--log", "log.db"});
  shop.in_volts({"job", "spin", "01-trial-a.flac", "--log", "log.db"});
  shop.in_volts({"job", "next", "--log", "log.db", "--json"});
  shop.in_volts({"job", "show", "--log", "log.db"});
  shop.in_volts({"job", "show", "--log", "log.db", "--json"});
  shop.in_volts({"sheet", "MC-0417/1", "--log", "log.db", "--out", "sheet.html"}, "sheet.html");
  shop.in_volts({"log", "show", "MC-0417/1", "--log", "log.db"});
  shop.in_volts({"log", "quality", "--log", "log.db"});
  shop.in_volts({"log", "export", "--log", "log.db", "--out", "jobs.csv"}, "jobs.csv");
  shop.in_volts({"log", "check", "--log", "log.db"});
}

TEST_CASE("pieces are placed, folders worked through and spins recorded without a unit of motion") {
  const UnscaledShop shop;
  shop.in_volts({"place", "spins.toml", "--stock", "stock.toml"});
  shop.in_volts({"place", "spins.toml", "--stock", "stock.toml", "--json"});
  shop.in_volts({"place", "spins.toml", "--stock", "stock.toml", "--picture", "place.svg"}, "place.svg");
  std::filesystem::create_directory(shop.folder / "runs");
  std::filesystem::copy_file(shop.folder / "00-as-found.flac", shop.folder / "runs/00-as-found.flac");
  shop.in_volts({"batch", "track", "runs", "--rig", "rig.toml", "--out", "tracks.csv"}, "tracks.csv");
  shop.in_volts({"batch", "track", "runs", "--rig", "rig.toml", "--out", "tracks.jsonl"}, "tracks.jsonl");
  CHECK(holds(read_file(shop.folder / "tracks.jsonl"), "\"unit\":\"V\""));
  shop.in_volts({"batch", "solve", ".", "--out", "solutions.jsonl"}, "solutions.jsonl");
  CHECK(holds(read_file(shop.folder / "solutions.jsonl"), "(V)/(g·mm)"));
  const std::vector<std::string> record = {
      "record", "play:00-as-found.flac", "kept.w64", "--rig", "rig.toml", "--seconds", "1.5 s", "--replace"};
  CHECK(holds(shop.in_volts(record, "kept.w64.json").out, "no samples lost"));
  std::vector<std::string> as_json = record;
  as_json.emplace_back("--json");
  CHECK(holds(shop.in_volts(as_json).out, "channel_peaks"));
}

TEST_CASE("a rig in volts is qualified spin by spin, and its report and its charts claim no motion") {
  const UnscaledShop shop;
  write_file(shop.folder / "rig.toml",
             read_file(shop.folder / "rig.toml") + "[qualification]\nsmallest_residual = \"80 g·mm\"\n");
  shop.in_volts({"rig", "qualify", "--rig", "rig.toml", "--shaft", "shaft.toml", "--log", "log.db"});
  shop.in_volts({"rig", "spin", "00-as-found.flac", "--log", "log.db"});
  shop.in_volts({"rig", "spin", "01-trial-a.flac", "--log", "log.db", "--json"});
  shop.in_volts({"rig", "next", "--log", "log.db"});
  CHECK(holds(shop.in_volts({"rig", "show", "--log", "log.db"}).out, " V"));
  shop.in_volts({"rig", "show", "--log", "log.db", "--json"});
}

TEST_CASE("a rig teaches nothing in absolute units where a sensitivity is unknown: no mass of a pedestal is claimed") {
  for (const int sensors : {1, 2}) {
    const UnscaledShop shop(sensors);
    CAPTURE(sensors);
    shop.run({"job", "open", "shaft.toml", "--rig", "rig.toml", "--log", "log.db"});
    shop.run({"job", "spin", "00-as-found.flac", "--log", "log.db"});
    shop.run({"job", "fit", "A 15 g @ 0 deg", "--log", "log.db"});
    REQUIRE(shop.run({"job", "spin", "01-trial-a.flac", "--log", "log.db"}).exit_code <= 1);
    for (const std::vector<std::string>& more :
         {std::vector<std::string>{}, {"--json"}, {"--anew"}, {"--out", "lessons.json"}, {"--shaft", "shaft.toml"}}) {
      std::vector<std::string> asked = {"rig", "model", "--log", "log.db"};
      asked.insert(asked.end(), more.begin(), more.end());
      const Ran ran = shop.run(asked);
      INFO(shop.line_of(asked) << ran.out << ran.err);
      CHECK(ran.exit_code == 2);
      CHECK(ran.out.empty());
      CHECK(holds(ran.err, "it needs one sensor of known sensitivity at each of two supports"));
    }
    if (std::filesystem::exists(shop.folder / "lessons.json"))
      CHECK(json::parse(read_file(shop.folder / "lessons.json")).at("lessons").empty());
  }
}

TEST_CASE("a run-up without a sensitivity is drawn and told in volts, and no other motion is made of it") {
  const UnscaledShop shop;
  shop.write_run_up();
  for (const std::vector<std::string>& kind :
       {std::vector<std::string>{}, {"--order-spectrum"}, {"--map"}, {"--csv"}, {"--json"}}) {
    std::vector<std::string> asked = {"sweep", "run-up.csv", "--rig", "one.toml"};
    asked.insert(asked.end(), kind.begin(), kind.end());
    const Ran ran = shop.in_volts(asked);
    CHECK(ran.exit_code == 0);
    asked.insert(asked.end(), {"--picture", "sweep.svg", "--replace"});
    shop.in_volts(asked, "sweep.svg");
  }
  for (const std::vector<std::string>& asked :
       {std::vector<std::string>{"sweep", "run-up.csv", "--rig", "one.toml", "--as", "displacement"},
        {"sweep", "run-up.csv", "--rig", "one.toml", "--map", "--as", "velocity"},
        {"track", "00-as-found.flac", "--rig", "rig.toml", "--as", "velocity-rms"},
        {"track", "00-as-found.flac", "--rig", "rig.toml", "--picture", "orbit.svg", "--orbit", "A", "B"}}) {
    const Ran ran = shop.run(asked);
    INFO(shop.line_of(asked) << ran.out << ran.err);
    CHECK(ran.exit_code == 2);
    CHECK(holds(ran.err, "a sensor whose sensitivity is unknown shows volts, and no "));
    CHECK(holds(ran.err, "rig new --only sensitivity"));
  }
}

TEST_CASE("correction and verdict do not ask what a sensor gives, be it of both or of one") {
  const auto solved = [](const UnscaledShop& shop) {
    return json::parse(shop.run({"solve", "spins.toml", "--json"}).out);
  };
  const json known = solved(UnscaledShop(0));
  for (const int sensors : {1, 2}) {
    CAPTURE(sensors);
    const json unknown = solved(UnscaledShop(sensors));
    CHECK(unknown["verdict"] == known["verdict"]);
    CHECK(unknown["coefficients"][3]["unit"] == "(V)/(g·mm)");
    for (const std::size_t p : {0U, 1U})
      for (const char* key : {"residual_gmm", "residual_angle_deg", "u_residual_gmm"})
        CHECK(unknown["planes"][p][key].get<double>() == Approx(known["planes"][p][key].get<double>()).epsilon(1e-6));
  }
}

TEST_CASE("that order 2 is not judged is said once for a spin, as a note") {
  const UnscaledShop shop;
  const Ran track = shop.run({"track", "00-as-found.flac", "--rig", "rig.toml", "--orders", "1,2", "--json"});
  int said = 0;
  const json document = json::parse(track.out);
  for (const auto& warning : document["warnings"])
    if (warning["code"] == "order_2_unjudged") {
      ++said;
      CHECK(warning["severity"] == "note");
    }
  CHECK(said == 1);
  const Ran german =
      shop.run({"track", "00-as-found.flac", "--rig", "rig.toml", "--orders", "1,2", "--language", "de"});
  CHECK(holds(german.out + german.err, "zweite Ordnung nicht beurteilt"));
}
