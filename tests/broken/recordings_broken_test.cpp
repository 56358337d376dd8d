#include <catch2/catch.hpp>
#include <filesystem>

#include "broken_cases.hpp"
#include "support.hpp"

using namespace counterspot::test;

namespace {

const std::string folder = "tests/broken/recordings";

}  // namespace

TEST_CASE("every broken recording gets its one sentence, one remedy, its exit code, and nothing on standard output") {
  auto list = broken_cases(folder);
  REQUIRE(list.size() >= 50);
  for (const BrokenCase& broken : list) check_broken(broken, folder);
}

TEST_CASE("every recording in the folder of broken ones has a case") {
  auto list = broken_cases(folder);
  for (const auto& entry : std::filesystem::directory_iterator(source_file(folder))) {
    std::string name = entry.path().filename().string();
    if (name == "cases.txt") continue;
    CAPTURE(name);
    bool used = name.starts_with("rig") || name.starts_with("good.");
    for (const BrokenCase& broken : list) {
      for (const std::string& argument : broken.arguments) used = used || argument == name;
    }
    CHECK(used);
  }
}

TEST_CASE("the recording that the broken ones were made from is measured without complaint about its data") {
  // Pencil: 0.2 of 10 V full scale over 100 mV/g is 20 g = 196.13 m/s2 peak, at 1 200 rpm.
  // The tolerance is four standard deviations of the noise: 1 g in 1 800 samples gives 9.81·√(2/1800) = 0.33 m/s2.
  Ran ran = run_program({"track", "--json", "good.wav", "--rig", "rig.toml"}, "/dev/null", source_file(folder));
  REQUIRE(ran.exit_code == 0);
  auto at = ran.out.find("\"amplitude\":");
  REQUIRE(at != std::string::npos);
  CHECK(std::stod(ran.out.substr(at + 12)) == Approx(196.13).margin(4 * 0.33));
}
