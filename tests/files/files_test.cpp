#include "counterspot/files/files.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/placement/stock.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/error.hpp"
#include "demo_files.hpp"
#include "files/toml_text.hpp"
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
repeat = "0.5 %"
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

TEST_CASE("what a person typed is one text in the file that is written of it, and is read as it was typed") {
  for (const std::string typed : {"bay \"2\" \\ north", "bay\t2", "bay\n2", "bay \x1b[2m\x7f", "Prüfstand 2"}) {
    const std::string stated = toml_text(typed);
    CHECK(stated.find('\n') == std::string::npos);
    CHECK(read_rig_text(rig_toml({.name = stated.substr(1, stated.size() - 2)}), "rig.toml").name == typed);
  }
}

TEST_CASE("a rig file says how its recordings are written") {
  TemporaryFolder folder;
  const auto rig_with = [&](const std::string& lines) {
    return read_rig(write_file(folder / "rig.toml", fmt::format("{}[recording]\n{}", rig_text, lines)));
  };
  const StatedFormat format =
      rig_with(
          "separator = \"blank\"\ndecimal = \",\"\nencoding = \"Latin-1\"\nfirst_row = 5\ntime = \"span\"\n"
          "time_unit = \"ms\"\nunits = { left = \"g\", tach = \"mV\" }\n")
          .format;
  CHECK(format.separator == ' ');
  CHECK(format.decimal == ',');
  CHECK(format.encoding == "Latin-1");
  CHECK(format.first_row == 5);
  CHECK(format.time == "span");
  CHECK(format.time_unit == "ms");
  CHECK(format.units == std::vector<std::pair<std::string, std::string>>{{"left", "g"}, {"tach", "mV"}});
  CHECK(rig_with("separator = \"tab\"\n").format.separator == '\t');
  CHECK_FALSE(rig_with("").format.separator.has_value());
  for (const char* wrong :
       {"separator = \"x\"", "decimal = \"'\"", "units = { left = \"Ohm\" }", "seperator = \",\""}) {
    CAPTURE(wrong);
    CHECK_THROWS_AS(rig_with(wrong), Error);
  }
}

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
  CHECK(rig.setting.repeat_fraction == Approx(0.005));
}

TEST_CASE("a rig file may give a signal of the speed, or an encoder, in place of a tach") {
  const auto rig_with_tach = [](const std::string& keys) {
    return read_rig_text("[rig]\nname = \"bay\"\nrotation = \"clockwise\"\nviewing_end = \"A\"\n[tach]\n" + keys +
                             "[[sensor]]\nname = \"A\"\nchannel = 1\nsensitivity = \"100 mV/g\"\n",
                         "rig.toml")
        .tach;
  };
  const TachSetup signal =
      rig_with_tach("speed_channel = \"speed\"\nspeed_scale = \"1000 rpm\"\nfull_scale = \"5 V\"\n");
  CHECK(std::get<std::string>(*signal.speed_channel) == "speed");
  CHECK(rpm(*signal.speed_scale_rad_s) == Approx(1000.0));
  CHECK(*signal.full_scale_V == 5.0);
  CHECK_FALSE(signal.channel);
  const std::string pair = "channel = 3\nsecond_channel = 4\na_leads = \"clockwise\"\npulses_per_revolution = 100\n";
  const TachSetup without_index = rig_with_tach(pair);
  CHECK(std::get<int>(*without_index.channel) == 3);
  CHECK(without_index.pulses_per_revolution == 100);
  const TachSetup encoder = rig_with_tach(pair + "index_channel = 5\n");
  CHECK(std::get<int>(*encoder.channel) == 5);
  CHECK(encoder.pulses_per_revolution == 1);
  REQUIRE(encoder.encoder);
  CHECK(std::get<int>(encoder.encoder->a) == 3);
  CHECK(std::get<int>(encoder.encoder->b) == 4);
  CHECK(encoder.encoder->pulses_per_revolution == 100);
  CHECK(encoder.encoder->a_leads == Rotation::clockwise);
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

// Where the shaft is seen to turn clockwise its angles run the other way: 3:00 is 270 deg, and 90 deg where it turns
// counter-clockwise.
TEST_CASE("an angle may be a clock position, as seen from the viewing end with the mark at 12:00") {
  for (const auto& [rotation, angle_deg] : {std::pair("clockwise", 270.0), std::pair("counter-clockwise", 90.0)}) {
    ThreeFiles files;
    std::string rig = rig_text;
    rig.replace(rig.find("\"clockwise\""), std::string("\"clockwise\"").size(), fmt::format("\"{}\"", rotation));
    write_file(files.folder / "rig.toml", rig);
    std::string spins = spins_text;
    spins.replace(spins.find("-90 deg"), std::string("-90 deg").size(), "3:00");
    write_file(files.folder / "spins.toml", spins);
    CHECK(degrees(read_spins(files.folder / "spins.toml").spins[1].fitted[0].angle_rad) == Approx(angle_deg));
    spins.replace(spins.find("3:00"), 4, "13:00");
    write_file(files.folder / "spins.toml", spins);
    CHECK_THROWS_AS(read_spins(files.folder / "spins.toml"), Error);
  }
}

TEST_CASE("an error names file, line and key") {
  ThreeFiles files;
  auto path = write_file(files.folder / "shaft.toml", "[shaft]\nid = \"PS-1\"\nmass = \"14.6\"\n");
  try {
    read_shaft(path);
    FAIL("a mass without a unit was taken");
  } catch (const Error& error) {
    CHECK(error.what() == path.string() + ":3: [shaft] mass: '14.6' has no unit, and a mass needs one");
    CHECK(error.remedy() == "add the unit; taken are g, kg, mg, oz, lb; 'counterspot manual shaft-file' has every key");
  }
}

// A solid bar that turns in two bearings: Ω = (π/L)² √(EI/(ρA)) for a thin one (Euler and Bernoulli; in any handbook of
// vibrations), with d/L = 0.02 within 0.1 %. A mass of m in its middle: by Rayleigh's quotient on sin(πx/L), M/2 + m
// for M/2.
TEST_CASE("sections, masses and supports in a shaft file are the beam that is computed") {
  TemporaryFolder folder;
  const std::string bar = shaft_toml() + R"(
[[section]]
begin = "0 mm"
end = "1000 mm"
outside_diameter = "20 mm"
[[support]]
position = "0 mm"
[[support]]
position = "1000 mm"
)";
  write_file(folder / "shaft.toml", bar);
  const Shaft plain = read_shaft(folder / "shaft.toml");
  CHECK(plain.sections.at(0).bore_m == 0.0);
  const Material steel = material_named("steel");
  const double expected = pi * pi * std::sqrt(steel.youngs_modulus_Pa / steel.density_kg_m3) * 0.020 / 4.0;
  CHECK(critical_speeds(beam_of(plain)).modes[0].speed_rad_s == Approx(expected).epsilon(1e-3));

  const double bar_kg = steel.density_kg_m3 * pi / 4.0 * 0.020 * 0.020;
  write_file(folder / "shaft.toml",
             bar + fmt::format("[[mass]]\nname = \"yoke\"\nposition = \"500 mm\"\nmass = \"{} kg\"\n", 0.05 * bar_kg));
  const Shaft laden = read_shaft(folder / "shaft.toml");
  CHECK(critical_speeds(beam_of(laden)).modes[0].speed_rad_s == Approx(expected / std::sqrt(1.1)).epsilon(2e-3));
}

TEST_CASE("a tube of another wall, a soft support and a slip spline are taken from the shaft file") {
  TemporaryFolder folder;
  write_file(folder / "shaft.toml", shaft_toml() + R"(
[[section]]
begin = "0 mm"
end = "900 mm"
outside_diameter = "76.2 mm"
wall = "2.1 mm"
[[section]]
begin = "900 mm"
end = "1100 mm"
outside_diameter = "50 mm"
material = "aluminium"
stiffness = "40 %"
[[support]]
position = "0 mm"
clamped = true
[[support]]
position = "1100 mm"
stiffness = "20 kN/mm"
)");
  const Beam beam = beam_of(read_shaft(folder / "shaft.toml"));
  REQUIRE(beam.sections.size() == 2);
  CHECK(beam.sections[0].bore_m == Approx(0.0720));
  CHECK(beam.sections[1].stiffness_fraction == Approx(0.4));
  CHECK(beam.sections[1].material.density_kg_m3 < 3000.0);
  REQUIRE(beam.supports.size() == 2);
  CHECK(beam.supports[0].clamped);
  CHECK(*beam.supports[1].stiffness_N_m == Approx(2e7));
}

TEST_CASE("grinding and drilling take off in steps, as far as the stock file lets them") {
  TemporaryFolder folder;
  write_file(folder / "shaft.toml", shaft_toml());
  write_file(folder / "stock.toml", R"(
[[grind]]
name = "grinder"
step = "0.5 g"
most = "2 g"
[[drill]]
name = "8 mm drill"
diameter = "8 mm"
step = "1 mm"
deepest = "3 mm"
density = "7850 kg/m3"
)");
  const auto pieces = pieces_of(read_stock(folder / "stock.toml", read_shaft(folder / "shaft.toml")));
  REQUIRE(pieces.size() == 7);
  for (int i = 0; i < 4; ++i) CHECK(pieces[static_cast<std::size_t>(i)].acting_kg == Approx(-0.5e-3 * (i + 1)));
  // A cylinder of the depth, and the cone of a point of 118 deg below it: πr²h + πr²·(r/tan 59°)/3.
  const double circle_m2 = pi * 4e-3 * 4e-3;
  const double cone_m3 = circle_m2 * 4e-3 / std::tan(radians(59.0)) / 3.0;
  for (int depth = 1; depth <= 3; ++depth) {
    const Piece& hole = pieces[static_cast<std::size_t>(3 + depth)];
    CHECK(hole.way == Way::drill);
    CHECK(hole.acting_kg == Approx(-7850.0 * (circle_m2 * 1e-3 * depth + cone_m3)));
  }
}
