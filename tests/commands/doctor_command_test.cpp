// What the doctor finds: nothing on a healthy shop, and each fault that is made here.
#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

namespace fs = std::filesystem;

/// Samples of a 16-bit converter at 1 kHz, three channels, 0.5 s: two sensors, and a tach of a shaft that stands.
struct Channels {
  double sensor_a = 0.02, sensor_b = 0.01;  ///< of full scale
  std::string bytes() const {
    std::string all;
    for (int n = 0; n < 500; ++n) {
      const double wave = std::sin(0.157 * n);
      for (const double value : {sensor_a * wave, sensor_b * wave, 0.001}) {
        const int sample = std::clamp(static_cast<int>(std::lround(32768.0 * value)), -32768, 32767);
        all += static_cast<char>(sample & 0xff);
        all += static_cast<char>((sample >> 8) & 0xff);
      }
    }
    return all;
  }
};

/// A shop in which nothing is wrong.
struct HealthyShop {
  HealthyShop() {
    setenv("XDG_CONFIG_HOME", (folder / "own").c_str(), 1);
    setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
    fs::create_directory(folder / "shafts");
    fs::create_directory(folder / "spins");
    for (const char* file : {"rig.toml", "stock.toml"}) fs::copy_file(source_file("data") / file, folder / file);
    fs::copy_file(source_file("data/shaft.toml"), folder / "shafts/MC-0417.toml");
    write_file(folder / "samples.raw", Channels().bytes());
    write_file(folder / "shop.toml", all_of_it);
  }
  ~HealthyShop() {
    unsetenv("XDG_CONFIG_HOME");
    unsetenv("XDG_DATA_HOME");
  }
  HealthyShop(const HealthyShop&) = delete;
  HealthyShop& operator=(const HealthyShop&) = delete;

  Ran run(std::vector<std::string> arguments = {}) const {
    arguments.insert(arguments.begin(), {"doctor", "--seconds", "0.2 s"});
    return run_program(arguments, "/dev/null", folder.path());
  }
  /// The parts that are to be mended, in their order, each once.
  std::vector<std::string> to_mend() const {
    const Ran ran = run({"--json"});
    CAPTURE(ran.out, ran.err);
    const auto found = nlohmann::json::parse(ran.out);
    std::vector<std::string> parts;
    for (const auto& each : found["parts"]) {
      if (each["health"] != "to_mend") continue;
      CHECK(each["mend"].is_string());
      if (parts.empty() || parts.back() != each["part"]) parts.push_back(each["part"]);
    }
    CHECK(ran.exit_code == (parts.empty() ? 0 : 1));
    CHECK(found["to_mend"] == !parts.empty());
    return parts;
  }

  static constexpr const char* all_of_it =
      "rig = \"rig.toml\"\nstock = \"stock.toml\"\nshafts = \"shafts\"\nrecordings = \"spins\"\nlog = \"log.db\"\n"
      "source = \"raw:samples.raw\"\nsource_rate = \"1 kHz\"\nsource_channels = 3\nsource_format = \"s16le\"\n";
  TemporaryFolder folder;
};

using Parts = std::vector<std::string>;

}  // namespace

TEST_CASE("the doctor finds nothing to mend in a healthy shop, before its first job and after") {
  const HealthyShop shop;
  CHECK(shop.to_mend().empty());
  REQUIRE(run_program({"job", "open", "MC-0417"}, "/dev/null", shop.folder.path()).exit_code == 0);
  CHECK(shop.to_mend().empty());
  const Ran told = shop.run();
  CHECK(told.out.find("ok     source            sensor A, channel 1: 2 % of full scale at most") != std::string::npos);
  CHECK(told.out.find("NEXT  Nothing is to be mended.\n") != std::string::npos);
  const Ran german = shop.run({"--language", "de"});
  CHECK(german.out.find("gut    Quelle            Aufnehmer A, Kanal 1: höchstens 2 % der Vollaussteuerung") !=
        std::string::npos);
  CHECK(german.out.find("WEITER  Es ist nichts zu beheben.\n") != std::string::npos);
}

TEST_CASE("the doctor names each file that is wrong, and looks at the others all the same") {
  const HealthyShop shop;
  SECTION("a folder in which nothing is stated") {
    fs::remove(shop.folder / "shop.toml");
    CHECK(shop.to_mend() == Parts{"rig"});
    CHECK(shop.run().out.find("counterspot rig new") != std::string::npos);
  }
  SECTION("defaults with a key that is none") {
    write_file(shop.folder / "shop.toml", "rigg = \"rig.toml\"\n");
    CHECK(shop.to_mend() == Parts{"shop", "rig"});
    CHECK(shop.run().out.find("shop.toml:1: ") != std::string::npos);
  }
  SECTION("a rig's file that is gone") {
    fs::remove(shop.folder / "rig.toml");
    CHECK(shop.to_mend() == Parts{"rig"});
  }
  SECTION("a shaft's file that cannot be read") {
    write_file(shop.folder / "shafts/PS-1.toml", "[shaft]\nid = \"PS-1\"\ngade = \"G16\"\n");
    CHECK(shop.to_mend() == Parts{"shafts"});
    CHECK(shop.run().out.find("PS-1.toml:3: ") != std::string::npos);
    CHECK(shop.run({"--language", "de"}).out.find("Dieser Schlüssel bedeutet hier nichts") != std::string::npos);
  }
  SECTION("no folder of shafts") {
    fs::remove_all(shop.folder / "shafts");
    CHECK(shop.to_mend() == Parts{"shafts"});
  }
  SECTION("a stock for planes that no shaft has") {
    write_file(shop.folder / "stock.toml",
               "[[piece]]\nname = \"washer\"\nmass = \"5 g\"\n[[plane]]\nname = \"middle\"\n");
    CHECK(shop.to_mend() == Parts{"stock"});
  }
}

TEST_CASE("the doctor names each channel that is dead, cut off or not there, and a source that is not there") {
  const HealthyShop shop;
  SECTION("a sensor whose cable is off") {
    write_file(shop.folder / "samples.raw", Channels{.sensor_b = 0.0}.bytes());
    CHECK(shop.to_mend() == Parts{"source"});
    CHECK(shop.run().out.find("sensor B, channel 2: there is no signal") != std::string::npos);
  }
  SECTION("a gain that is too high") {
    write_file(shop.folder / "samples.raw", Channels{.sensor_a = 1.5}.bytes());
    CHECK(shop.to_mend() == Parts{"source"});
    CHECK(shop.run().out.find("sensor A, channel 1: it reaches the end") != std::string::npos);
  }
  SECTION("fewer channels than the rig has") {
    write_file(shop.folder / "shop.toml",
               std::string(HealthyShop::all_of_it)
                   .replace(std::string(HealthyShop::all_of_it).find("channels = 3"), 12, "channels = 2"));
    CHECK(shop.to_mend() == Parts{"source"});
  }
  SECTION("nothing comes in") {
    write_file(shop.folder / "samples.raw", "");
    CHECK(shop.to_mend() == Parts{"source"});
    CHECK(shop.run().out.find("gives no samples") != std::string::npos);
  }
  SECTION("no such device") {
    CHECK(shop.run({"--source", "alsa:no-such-device"}).exit_code == 1);
    CHECK(shop.run({"--source", "play:gone.wav"}).exit_code == 1);
  }
  SECTION("a pipe is left alone") {
    CHECK(shop.run({"--source", "-"}).exit_code == 0);
  }
}

TEST_CASE("the doctor names a log that is none, one that was altered, and a place where none can be made") {
  const HealthyShop shop;
  SECTION("another kind of file") {
    write_file(shop.folder / "log.db", "This is a letter to the customer.\n");
    CHECK(shop.to_mend() == Parts{"log"});
  }
  SECTION("below a file") {
    CHECK(shop.run({"--log", "rig.toml/log.db"}).exit_code == 1);
  }
  SECTION("altered") {
    REQUIRE(run_program({"job", "open", "MC-0417"}, "/dev/null", shop.folder.path()).exit_code == 0);
    std::string bytes = read_file(shop.folder / "log.db");
    for (std::size_t at = bytes.find("3200 rpm"); at != std::string::npos; at = bytes.find("3200 rpm", at + 1))
      bytes.replace(at, 4, "2300");
    write_file(shop.folder / "log.db", bytes);
    CHECK(shop.to_mend() == Parts{"log"});
  }
}

TEST_CASE("the doctor sees a clock that is behind from what was written") {
  const HealthyShop shop;
  fs::last_write_time(shop.folder / "rig.toml", fs::file_time_type::clock::now() + std::chrono::hours(72));
  CHECK(shop.to_mend() == Parts{"clock"});
}

TEST_CASE("the doctor names the font that is missing") {
  const HealthyShop shop;
  write_file(shop.folder / "fonts.conf", "<?xml version=\"1.0\"?><fontconfig><dir>/nowhere</dir></fontconfig>\n");
  setenv("FONTCONFIG_FILE", (shop.folder / "fonts.conf").c_str(), 1);
  CHECK(shop.to_mend() == Parts{"lettering"});
  unsetenv("FONTCONFIG_FILE");
}
