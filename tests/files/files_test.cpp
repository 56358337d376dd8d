#include "counterspot/files.hpp"

#include <catch2/catch.hpp>

#include "counterspot/error.hpp"
#include "demo_files.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const char* const rig_text = R"toml(
[rig]
name = "bay 2"
rotation = "clockwise"
viewing_end = "B"
sample_rate = "51.2 kHz"
[tach]
channel = "tach"
pulses_per_revolution = 2
edge = "falling"
level = "2.5 V"
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
full_scale = "10 V"
[[sensor]]
name = "B"
channel = "accel b"
sensitivity = "20 mV/(mm/s)"
[setting]
mass = "2 %"
angle = "1.5 deg"
)toml";

const char* const spins_text = R"toml(
rig = "rig.toml"
shaft = "shaft.toml"
[[spin]]
label = "as found"
recording = "00-as-found.wav"
[[spin]]
label = "trial at A"
recording = "01-trial-a.wav"
fitted = [ { plane = "A", mass = "15 g", angle = "-90 deg" }, { plane = "B", mass = "-2 g", angle = "10 deg", radius = "41 mm" } ]
)toml";

struct ThreeFiles {
  TemporaryFolder folder;
  ThreeFiles() {
    write_file(folder / "rig.toml", rig_text);
    write_file(folder / "shaft.toml", shaft_toml());
    write_file(folder / "spins.toml", spins_text);
  }
};

}  // namespace

TEST_CASE("a rig file says what it says") {
  ThreeFiles files;
  Rig rig = read_rig(files.folder / "rig.toml");
  CHECK(rig.name == "bay 2");
  CHECK(rig.rotation == Rotation::clockwise);
  CHECK(rig.viewing_end == "B");
  CHECK(*rig.sample_rate_Hz == 51200.0);
  CHECK(std::get<std::string>(*rig.tach.channel) == "tach");
  CHECK(rig.tach.pulses_per_revolution == 2);
  CHECK(rig.tach.edge == Edge::falling);
  CHECK(*rig.tach.level == 2.5);
  REQUIRE(rig.sensors.size() == 2);
  CHECK(std::get<int>(rig.sensors[0].channel) == 1);
  CHECK(rig.sensors[0].full_scale_V == 10.0);
  CHECK(std::get<std::string>(rig.sensors[1].channel) == "accel b");
  CHECK(rig.sensors[1].sensitivity.motion == Motion::velocity);
  CHECK(rig.setting.mass_fraction == Approx(0.02));
  CHECK(degrees(rig.setting.angle_rad) == Approx(1.5));
}

TEST_CASE("a shaft file says what it says") {
  ThreeFiles files;
  Shaft shaft = read_shaft(files.folder / "shaft.toml");
  CHECK(shaft.id == "PS-1042");
  CHECK(*shaft.mass_kg == Approx(14.6));
  CHECK(rpm(*shaft.service_speed_rad_s) == Approx(3200.0));
  CHECK(shaft.tube->outside_diameter_m == Approx(0.0762));
  CHECK_FALSE(shaft.supports->center_of_mass_m.has_value());
  REQUIRE(shaft.planes.size() == 2);
  CHECK(shaft.planes[1].position_m == Approx(1.43));
}

TEST_CASE("a spin file brings rig and shaft along, and states all that is fitted") {
  ThreeFiles files;
  SpinSet set = read_spins(files.folder / "spins.toml");
  CHECK(set.rig.name == "bay 2");
  CHECK(set.shaft.id == "PS-1042");
  REQUIRE(set.spins.size() == 2);
  CHECK(set.spins[0].recording == files.folder / "00-as-found.wav");
  CHECK(set.spins[0].fitted.empty());
  REQUIRE(set.spins[1].fitted.size() == 2);
  CHECK(degrees(set.spins[1].fitted[0].angle_rad) == Approx(270.0));
  CHECK(set.spins[1].fitted[0].radius_m == Approx(0.039));
  CHECK(set.spins[1].fitted[1].mass_kg == Approx(-0.002));
  CHECK(set.spins[1].fitted[1].radius_m == Approx(0.041));
}

TEST_CASE("an error names file, line and key") {
  ThreeFiles files;
  auto path = write_file(files.folder / "shaft.toml", "[shaft]\nid = \"PS-1\"\nmass = \"14.6\"\n");
  try {
    read_shaft(path);
    FAIL("a mass without a unit was taken");
  } catch (const Error& error) {
    CHECK(error.what() == path.string() + ":3: [shaft] mass: '14.6' has no unit, and a mass needs one");
    CHECK(error.remedy() == "add the unit; taken are g, kg, mg, oz, lb");
  }
}
