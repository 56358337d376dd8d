// A shaft's and a stock's file from a tape measure and a scale: asked for, typed, or read from a pipe.
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/files/new_files.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/tolerance/tolerance.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

bool says(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

/// An empty folder of a user who has stated nothing.
struct EmptyShop {
  EmptyShop() { setenv("XDG_CONFIG_HOME", (folder / "own").c_str(), 1); }
  ~EmptyShop() { unsetenv("XDG_CONFIG_HOME"); }
  EmptyShop(const EmptyShop&) = delete;
  EmptyShop& operator=(const EmptyShop&) = delete;

  Ran run(const std::vector<std::string>& arguments, const std::string& typed_lines = "") const {
    return run_program(arguments, write_file(folder / "typed.txt", typed_lines), folder.path());
  }
  TemporaryFolder folder;
};

/// Everything that is asked of a shaft that stood on a scale.
const std::vector<std::string> weighed = {
    "--mass",           "14.60 kg", "--outside-diameter", "76.20 mm", "--wall",    "2.10 mm", "--length",   "1420 mm",
    "--material",       "steel",    "--service-speed",    "3200 rpm", "--limit",   "G16",     "--supports", "1500 mm",
    "--center-of-mass", "763 mm",   "--plane-a",          "70 mm",    "--plane-b", "1430 mm", "--radius",   "39 mm"};
std::vector<std::string> new_shaft(const std::string& id, const std::vector<std::string>& options) {
  std::vector<std::string> arguments = {"shaft", "new", id};
  arguments.insert(arguments.end(), options.begin(), options.end());
  return arguments;
}

constexpr double g_mm = 1e-6;

}  // namespace

TEST_CASE("a shaft's file from what was typed is read with the values of one that a person wrote") {
  const EmptyShop shop;
  const Ran ran = shop.run(new_shaft("MC-0417", weighed));
  CAPTURE(ran.out, ran.err);
  REQUIRE(ran.exit_code == 0);
  CHECK(says(ran.out, "NEXT  counterspot shop shafts .\n"));
  const Shaft made = read_shaft(shop.folder / "MC-0417.toml");
  const Shaft written = read_shaft(source_file("data/shaft.toml"));
  CHECK(made.id == written.id);
  CHECK(made.mass_kg == written.mass_kg);
  CHECK(made.service_speed_rad_s == written.service_speed_rad_s);
  CHECK(made.grade == written.grade);
  CHECK(made.tube->outside_diameter_m == written.tube->outside_diameter_m);
  CHECK(made.tube->wall_m == written.tube->wall_m);
  CHECK(made.tube->length_m == written.tube->length_m);
  CHECK(made.supports->b_m == written.supports->b_m);
  CHECK(made.supports->center_of_mass_m == written.supports->center_of_mass_m);
  for (const std::size_t p : {0U, 1U}) {
    CHECK(made.planes[p].position_m == written.planes[p].position_m);
    CHECK(made.planes[p].radius_m == written.planes[p].radius_m);
  }
  CHECK(limits_of(made).total_kg_m == limits_of(written).total_kg_m);
}

TEST_CASE("what is not typed is asked one question at a time, and a pipe answers line by line, in German too") {
  const EmptyShop shop;
  // no scale, tube, material as offered, ends, speed, limit, supports, middle, planes, radius as offered
  const std::string lines =
      "\n76.2 mm\n2.1 mm\n1420 mm\n\n4.5 kg ± 0.4 kg\n4.5 kg ± 0.3 kg\n3200 rpm\n40 g·mm\n1500 mm\n\n70 mm\n1430 "
      "mm\n\n";
  const Ran ran = shop.run({"shaft", "new", "PS-1042", "--language", "de"}, lines);
  CAPTURE(ran.out, ran.err);
  REQUIRE(ran.exit_code == 0);
  CHECK(says(ran.err, "Was ist der Außendurchmesser des Rohrs?"));
  CHECK(says(ran.err, "der verantwortliche Ingenieur"));
  CHECK(says(ran.out, "Zulässige Restunwucht in Ebene A: 40 g·mm"));
  const Shaft made = read_shaft(shop.folder / "PS-1042.toml");
  CHECK(made.limits_kg_m.at("B") == Approx(40.0 * g_mm));
  CHECK(made.tube->material == "steel");
  CHECK(made.planes[0].radius_m == Approx(0.0396));
  CHECK_FALSE(made.supports->center_of_mass_m);
  // what ends too early says which question is open
  const Ran open = shop.run({"shaft", "new", "PS-1043"}, "14.6 kg\n76.2 mm\n");
  CHECK(open.exit_code == 2);
  CHECK(says(open.err, "give --wall"));
  CHECK_FALSE(std::filesystem::exists(shop.folder / "PS-1043.toml"));
  const Ran wrong = shop.run({"shaft", "new", "PS-1043"}, "14.6\n");
  CHECK(wrong.exit_code == 2);
  CHECK(says(wrong.err, "'14.6' has no unit"));
}

TEST_CASE("without a scale the mass is the tube's and its ends', and the limit that of the least it can be") {
  // By hand: π/4 (76.2² − 72.0²) mm² · 1420 mm · 7850 kg/m³ = 5.449 kg; a wall read to 0.1 mm of 2.1 mm makes
  // ± 0.2595 kg; with ends of ± 0.4 kg and ± 0.3 kg, √(0.2595² + 0.4² + 0.3²) = 0.5633 kg.
  FileAnswers answers = {{"outside-diameter", {"76.2 mm"}}, {"wall", {"2.1 mm"}},
                         {"length", {"1420 mm"}},           {"material", {"steel"}},
                         {"end-a", {"4.5 kg ± 0.4 kg"}},    {"end-b", {"4.5 kg ± 0.3 kg"}},
                         {"service-speed", {"3200 rpm"}},   {"limit", {"g16"}},
                         {"supports", {"1500 mm"}},         {"plane-a", {"70 mm"}},
                         {"plane-b", {"1430 mm"}},          {"radius", {}}};
  const EstimatedMass mass = estimated_mass(answers);
  CHECK(mass.value_kg == Approx(14.449).epsilon(1e-3));
  CHECK(mass.plus_minus_kg == Approx(0.5633).epsilon(1e-3));
  const std::string text = new_shaft_text("PS-1", answers);
  CHECK(says(text, "± 0.56 kg"));
  const Shaft shaft = read_shaft_text(text, "PS-1.toml");
  CHECK(*shaft.mass_kg == Approx(13.886).epsilon(1e-3));
  // ISO 21940-11: 16 mm/s · 13.886 kg / 335.1 rad/s = 663 g·mm.
  CHECK(*limits_of(shaft).total_kg_m == Approx(663.0 * g_mm).epsilon(2e-3));
  answers["mass"] = {"4 kg"};
  CHECK_THROWS_WITH(new_shaft_text("PS-1", answers), Catch::Contains("its tube alone weighs 5.45 kg"));
}

TEST_CASE("a copy of an earlier shaft has all of it but what was typed, and what is that piece's alone") {
  const EmptyShop shop;
  const std::string more =
      "[joints]\nangle_A = \"4 deg\"\nangle_B = \"3 deg\"\n[[mass]]\nposition = \"20 mm\"\nmass = \"2.5 kg\"\n"
      "[[section]]\nbegin = \"0 mm\"\nend = \"1500 mm\"\noutside_diameter = \"3 in\"\nwall = \"2.1 mm\"\nstiffness = "
      "\"60 %\"\n[[support]]\nposition = \"0 mm\"\nstiffness = \"2 kN/mm\"\n[order]\nserial = \"0417-22\"\n"
      "[straightness]\n[[straightness.station]]\nposition = \"700 mm\"\nreadings = [ { angle = \"0 deg\", dial = "
      "\"0.1 mm\" } ]\n";
  write_file(shop.folder / "old.toml", read_file(source_file("data/shaft.toml")) + more);
  REQUIRE(shop.run({"shop", "shafts", "."}).exit_code == 0);
  const Ran ran = shop.run({"shaft", "new", "PS-1050", "--like", "MC-0417", "--mass", "14.9 kg", "--json"});
  CAPTURE(ran.out, ran.err);
  REQUIRE(ran.exit_code == 0);
  CHECK(nlohmann::json::parse(ran.out)["next"] == "counterspot job open PS-1050");
  const Shaft copy = read_shaft(shop.folder / "PS-1050.toml");
  const Shaft old = read_shaft(shop.folder / "old.toml");
  CHECK(*copy.mass_kg == 14.9);
  CHECK(copy.tube->wall_m == Approx(old.tube->wall_m));
  CHECK(*copy.supports->center_of_mass_m == Approx(*old.supports->center_of_mass_m));
  CHECK(copy.joints->angle_b_rad == Approx(old.joints->angle_b_rad));
  REQUIRE(copy.sections.size() == 1);
  CHECK(copy.sections[0].bore_m == Approx(old.sections[0].bore_m));
  CHECK(copy.sections[0].stiffness_fraction == Approx(0.6));
  CHECK(copy.masses[0].mass_kg == Approx(2.5));
  CHECK(*copy.bearings[0].stiffness_N_m == Approx(2e6));
  CHECK(copy.planes[1].position_m == Approx(1.43));
  CHECK(copy.dial_stations.empty());
  const std::string text = read_file(shop.folder / "PS-1050.toml");
  CHECK_FALSE(says(text, "0417-22"));
  CHECK(says(text, "# as MC-0417"));
  CHECK(says(text, "# as weighed"));
}

TEST_CASE("no new file is written over one that is there") {
  const EmptyShop shop;
  write_file(shop.folder / "MC-0417.toml", "mine");
  write_file(shop.folder / "stock.toml", "mine");
  CHECK(shop.run(new_shaft("MC-0417", weighed)).exit_code == 2);
  CHECK(shop.run({"stock", "new", "--washer", "16 mm: 2.9 g"}).exit_code == 2);
  CHECK(read_file(shop.folder / "MC-0417.toml") == "mine");
  CHECK(read_file(shop.folder / "stock.toml") == "mine");
}

TEST_CASE("a stock's file holds the pieces that were said, so far apart that neighbours have room") {
  const EmptyShop shop;
  const std::string lines =
      "bay 2\n16 mm: 2.9 g\n20 mm: 5.6 g\n\n25 mm: 10 g, 15 g\n\n12 x 3 mm, 0.283 g/mm\n20 mm x 4 mm\n\n"
      "60-80: 8.5 g, 12.5 g, 250 N\n\n4 %\n\nA: 352 deg to 8 deg, weld seam\n84 deg to 100 deg, yoke ear\n\n";
  const Ran ran = shop.run({"stock", "new"}, lines);
  CAPTURE(ran.out, ran.err);
  REQUIRE(ran.exit_code == 0);
  CHECK(says(ran.out, "NEXT  counterspot shop stock stock.toml\n"));
  const Stock stock = read_stock(shop.folder / "stock.toml", read_shaft(source_file("data/shaft.toml")));
  CHECK(stock.name == "bay 2");
  REQUIRE(stock.kinds.size() == 6);
  CHECK(stock.kinds[0].masses_kg == std::vector{2.9e-3});
  CHECK(stock.kinds[2].masses_kg.size() == 2);
  CHECK(stock.kinds[2].bead.fraction == Approx(0.04));
  CHECK(stock.kinds[3].linear_mass_kg_m == Approx(0.283));
  CHECK(stock.kinds[4].linear_mass_kg_m == Approx(0.020 * 0.004 * 7850.0));  // the section of steel
  CHECK(stock.kinds[5].masses_kg.size() == 2);
  CHECK(*stock.kinds[5].holds_N == Approx(250.0));
  // The widest is the slug of 25 mm; 2 mm more for a bead.
  CHECK(stock.rules.at("A").gap_m() == Approx(0.027));
  CHECK(stock.rules.at("A").forbidden.size() == 2);
  CHECK(stock.rules.at("B").forbidden.size() == 1);
  CHECK(stock.rules.at("B").forbidden[0].why == "yoke ear");
}

TEST_CASE("a stock without a piece, and an answer that is none, are refused with what to write") {
  const EmptyShop shop;
  const auto refused = [&](const std::vector<std::string>& options) {
    std::vector<std::string> arguments = {"stock", "new"};
    arguments.insert(arguments.end(), options.begin(), options.end());
    const Ran ran = shop.run(arguments);
    CHECK(ran.exit_code == 2);
    CHECK_FALSE(std::filesystem::exists(shop.folder / "stock.toml"));
    return ran.err;
  };
  CHECK(says(refused({}), "no piece is stated"));
  CHECK(says(refused({"--washer", "2.9 g"}), "16 mm: 2.9 g"));
  CHECK(says(refused({"--washer", "16 mm: 2.9"}), "has no unit"));
  CHECK(says(refused({"--strip", "12 mm"}), "12 x 3 mm"));
  CHECK(says(refused({"--strip", "12 x 3 mm, 2.83 g/mm"}), "steel of that section weighs 0.283 g/mm"));
  CHECK(says(refused({"--clamp", "60-80: 250 N"}), "60-80: 8.5 g"));
  CHECK(says(refused({"--closed-arc", "A: 352 deg to 8 deg"}), "weld seam"));
}

TEST_CASE("every question stands in both languages") {
  for (const auto& questions : {shaft_questions(), stock_questions()}) {
    for (const FileQuestion& question : questions) {
      CAPTURE(question.key);
      CHECK(question.words.en != question.words.de);
      CHECK(question.help.en.empty() == question.help.de.empty());
      CHECK((question.help.en.empty() || question.help.en != question.help.de));
    }
  }
}
