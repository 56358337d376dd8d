// What a shop states once is not typed again.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "typed_shop.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

bool says(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

/// A variable of the environment as long as this lives.
class Set {
 public:
  Set(const char* name, const std::string& value) : name_(name) { setenv(name, value.c_str(), 1); }
  ~Set() { unsetenv(name_); }
  Set(const Set&) = delete;
  Set& operator=(const Set&) = delete;

 private:
  const char* name_;
};

/// A user with a configuration of his own, a shop's folder, and nothing stated yet.
struct FirstDayShop : TypedShop {
  FirstDayShop() : TypedShop(at(300.0, 40.0), at(200.0, 110.0)) {
    std::filesystem::create_directory(folder / "shafts");
    std::filesystem::rename(folder / "shaft.toml", folder / "shafts" / "one.toml");
  }
  std::string text(const std::string& name) const { return (folder / name).string(); }
  void state(const std::string& lines) const { write_file(folder / "shop.toml", lines); }
  void state_for_user(const std::string& lines) const {
    std::filesystem::create_directories(folder / "own/counterspot");
    write_file(folder / "own/counterspot/shop.toml", lines);
  }
  nlohmann::json shown() const { return nlohmann::json::parse(run({"shop", "--json"}).out); }

  Set config{"XDG_CONFIG_HOME", text("own")};
  Set data{"XDG_DATA_HOME", text("data")};
};

constexpr const char* all_of_it = "rig = \"rig.toml\"\nshafts = \"shafts\"\nlog = \"log.db\"\nrecordings = \"spins\"\n";

}  // namespace

TEST_CASE(
    "with the shop's defaults a job is opened by the shaft's id alone, and what was taken is said with its line") {
  const FirstDayShop shop;
  CHECK(shop.run({"job", "open", "PS-1042"}).exit_code == 2);
  shop.state(all_of_it);
  const Ran opened = shop.run({"job", "open", "PS-1042"});
  CAPTURE(opened.err);
  REQUIRE(opened.exit_code == 0);
  CHECK(says(opened.err, "rig = " + shop.text("rig.toml") + " (" + shop.text("shop.toml") + ":1)"));
  CHECK(says(opened.err, "log = " + shop.text("log.db") + " (" + shop.text("shop.toml") + ":3)"));
  CHECK(std::filesystem::exists(shop.folder / "log.db"));
  const auto next = nlohmann::json::parse(shop.run({"job", "next", "--json"}).out);
  CHECK(says(next.dump(), "PS-1042"));
}

TEST_CASE("of an option, the environment, the folder's file and the user's, the first that states a key counts") {
  const FirstDayShop shop;
  CHECK(shop.shown().empty());
  shop.state_for_user("units = \"inch\"\nseconds = \"7 s\"\nlanguage = \"de\"\n");
  CHECK(shop.shown()["units"]["value"] == "inch");
  shop.state("units = \"metric\"\nseconds = \"8 s\"\n");
  std::filesystem::create_directories(shop.folder / "deep/deeper");
  const Ran deep = run_program({"shop", "--json"}, "/dev/null", shop.folder / "deep/deeper");
  const auto below = nlohmann::json::parse(deep.out);
  CHECK(below["units"]["value"] == "metric");
  CHECK(below["language"]["value"] == "de");
  CHECK(below["language"]["from"] == shop.text("own/counterspot/shop.toml"));
  const Set seconds("COUNTERSPOT_SECONDS", "9 s");
  CHECK(shop.shown()["seconds"]["value"] == "9 s");
  CHECK(shop.shown()["seconds"]["from"] == "COUNTERSPOT_SECONDS");
  CHECK(says(shop.run({"limit", "--grade", "G16", "--mass", "14.6kg", "--speed", "3200rpm"}).out, "RESTUNWUCHT"));
  CHECK(says(shop.run({"limit", "--grade", "G16", "--mass", "14.6kg", "--speed", "3200rpm", "--language", "en"}).out,
             "RESIDUAL"));
}

TEST_CASE("a path in the shop's file is seen from that file, wherever one works") {
  const FirstDayShop shop;
  shop.state(all_of_it);
  std::filesystem::create_directory(shop.folder / "deep");
  const Ran opened = run_program({"job", "open", "PS-1042"}, "/dev/null", shop.folder / "deep");
  CAPTURE(opened.err);
  CHECK(opened.exit_code == 0);
  CHECK(std::filesystem::exists(shop.folder / "log.db"));
}

TEST_CASE("a rig that the shop's file names and is not there is an error with its line, unless another is named") {
  const FirstDayShop shop;
  shop.state("shafts = \"shafts\"\nrig = \"gone.toml\"\n");
  const Ran refused = shop.run({"job", "open", "PS-1042"});
  CHECK(refused.exit_code == 2);
  CHECK(says(refused.err, shop.text("shop.toml") + ":2: rig: " + shop.text("gone.toml") + " is not there"));
  CHECK(says(refused.err, "counterspot shop rig FILE"));
  CHECK(shop.run({"job", "open", "PS-1042", "--rig", "rig.toml", "--log", "log.db"}).exit_code == 0);
}

TEST_CASE("a broken or misspelt shop file says where, and help and the shop command's manual still answer") {
  const FirstDayShop shop;
  shop.state("units = \"metric\"\nrigg = \"rig.toml\"\n");
  const Ran refused = shop.run({"job", "next"});
  CHECK(refused.exit_code == 2);
  CHECK(says(refused.err, "shop.toml:2"));
  CHECK(says(refused.err, "'counterspot manual shop-file' has every key"));
  CHECK(shop.run({"job", "next", "--help"}).exit_code == 0);
  CHECK(shop.run({"--help"}).exit_code == 0);
  CHECK(shop.run({"manual", "shop-file"}).exit_code == 0);
  shop.state("units = [\n");
  CHECK(says(shop.run({"job", "next"}).err, "shop.toml:"));
  const Set units("COUNTERSPOT_UNITS", "cubits");
  shop.state("");
  CHECK(
      says(shop.run({"place", "spins.toml", "--stock", "s.toml"}).err, "COUNTERSPOT_UNITS: units cannot be 'cubits'"));
}

TEST_CASE("the shop command writes one line, leaves the others as they were, and what it wrote is read") {
  const FirstDayShop shop;
  shop.state("# bay 2\nrig = \"old.toml\"   \nunits = \"inch\"\n");
  REQUIRE(shop.run({"shop", "rig", "rig.toml"}).exit_code == 0);
  CHECK(read_file(shop.folder / "shop.toml") == "# bay 2\nrig = \"rig.toml\"\nunits = \"inch\"\n");
  CHECK(shop.shown()["rig"]["value"] == shop.text("rig.toml"));
  CHECK(shop.run({"shop", "units", "cubits"}).exit_code == 2);
  CHECK(shop.run({"shop", "rig", "gone.toml"}).exit_code == 2);
  CHECK(shop.run({"shop", "colour", "blue"}).exit_code == 2);
  CHECK(read_file(shop.folder / "shop.toml") == "# bay 2\nrig = \"rig.toml\"\nunits = \"inch\"\n");
  REQUIRE(shop.run({"shop", "shafts", "shafts", "--user"}).exit_code == 0);
  CHECK(says(read_file(shop.folder / "own/counterspot/shop.toml"), "shafts = \"" + shop.text("shafts") + "\""));
}

TEST_CASE("a shaft id that no file has is refused with those there are, and one that two files have as well") {
  const FirstDayShop shop;
  shop.state(all_of_it);
  const Ran none = shop.run({"job", "open", "PS-1"});
  CHECK(none.exit_code == 2);
  CHECK(says(none.err, "name a file, or one of PS-1042"));
  std::filesystem::copy_file(shop.folder / "shafts/one.toml", shop.folder / "shafts/two.toml");
  const Ran both = shop.run({"job", "open", "PS-1042"});
  CHECK(both.exit_code == 2);
  CHECK(says(both.err, "one.toml"));
  CHECK(says(both.err, "two.toml"));
  CHECK_FALSE(std::filesystem::exists(shop.folder / "log.db"));
}

TEST_CASE("'job spin' alone records from the shop's source into its folder, and keeps the spin") {
  const FirstDayShop shop;
  const std::string source = "play:" + source_file("data/00-as-found.flac").string();
  std::filesystem::copy_file(source_file("data/rig.toml"), shop.folder / "bay.toml");
  shop.state(
      "rig = \"bay.toml\"\nshafts = \"shafts\"\nlog = \"log.db\"\nrecordings = \"spins\"\nseconds = \"4 s\"\n"
      "source = \"" +
      source + "\"\n");
  REQUIRE(shop.run({"job", "open", "PS-1042"}).exit_code == 0);
  const Ran spun = shop.run({"job", "spin"});
  CAPTURE(spun.out, spun.err);
  CHECK(spun.exit_code == 0);
  const auto job = nlohmann::json::parse(shop.run({"job", "show", "--json"}).out);
  CHECK(says(job.dump(), shop.text("spins/PS-1042")));
  const Ran too_long = shop.run({"job", "spin", "--seconds", "60 s", "--recordings", ""});
  CHECK(too_long.exit_code == 2);
}

TEST_CASE("pieces are placed from the shop's stock without naming it") {
  FirstDayShop shop;
  std::filesystem::copy_file(shop.folder / "shafts/one.toml", shop.folder / "shaft.toml");
  shop.write_spins({});
  write_file(shop.folder / "stock.toml", "[[piece]]\nname = \"washer\"\nmasses = [\"2 g\", \"5 g\", \"8 g\"]\n");
  CHECK(shop.run({"place", "spins.toml"}).exit_code == 2);
  const Ran named = shop.run({"place", "spins.toml", "--stock", "stock.toml"});
  shop.state("stock = \"stock.toml\"\n");
  const Ran found = shop.run({"place", "spins.toml"});
  CHECK(found.exit_code == named.exit_code);
  CHECK(found.out == named.out);
  CHECK(says(found.err, "stock = " + shop.text("stock.toml")));
}

TEST_CASE("the program alone says in at most ten lines where things stand, from an empty folder to an open job") {
  const TemporaryFolder empty;
  const Set config("XDG_CONFIG_HOME", (empty / "own").string());
  const Set data("XDG_DATA_HOME", (empty / "data").string());
  const auto lines = [](const std::string& text) { return std::count(text.begin(), text.end(), '\n'); };
  const Ran nothing = run_program({}, "/dev/null", empty.path());
  CHECK(nothing.exit_code == 0);
  CHECK(says(nothing.out, "NEXT  counterspot rig new\n"));
  const FirstDayShop shop;
  CHECK(says(shop.run({}).out, "NEXT  counterspot shop rig rig.toml\n"));
  REQUIRE(shop.run({"shop", "rig", "rig.toml"}).exit_code == 0);
  CHECK(says(shop.run({}).out, "NEXT  counterspot shop shafts"));
  REQUIRE(shop.run({"shop", "shafts", "shafts"}).exit_code == 0);
  const Ran ready = shop.run({});
  CHECK(says(ready.out, "No job is open"));
  CHECK(says(ready.out, "NEXT  counterspot job open PS-1042\n"));  // the shaft that is there
  CHECK(says(ready.out, "'counterspot stock new'"));
  CHECK(says(ready.out, "'counterspot doctor'"));
  std::filesystem::create_directory(shop.folder / "none");
  REQUIRE(shop.run({"shop", "shafts", "none"}).exit_code == 0);
  CHECK(says(shop.run({}).out, "NEXT  counterspot shaft new ID\n"));
  REQUIRE(shop.run({"shop", "shafts", "shafts"}).exit_code == 0);
  REQUIRE(shop.run({"job", "open", "PS-1042"}).exit_code == 0);
  const Ran open = shop.run({});
  CAPTURE(open.out, open.err);
  CHECK(open.exit_code == 0);
  CHECK(says(open.out, "Open jobs: 1, the newest PS-1042"));
  CHECK(says(open.out, "NEXT  counterspot job next\n"));
  CHECK(says(open.out, "CAUTION"));
  CHECK(lines(open.out) <= 10);
  REQUIRE(shop.run({"shop", "language", "de"}).exit_code == 0);
  CHECK(says(shop.run({}).out, "WEITER  counterspot job next\n"));
  write_file(shop.folder / "shop.toml", "rig = \"gone.toml\"\nlog = \"none.db\"\n");
  CHECK(shop.run({}).exit_code == 2);
}
