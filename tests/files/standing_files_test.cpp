#include "files/standing_files.hpp"

#include <catch2/catch.hpp>

#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("a file is told as ready once, when it has stood still for the time that was asked for") {
  const TemporaryFolder folder;
  const std::string file = write_file(folder / "spin.wav", "half").string();
  StandingFiles standing(3.0);
  CHECK(standing.look({file}, 0.0).ready.empty());
  CHECK(standing.look({file}, 2.9).ready.empty());
  write_file(file, "half and half");
  const auto grown = standing.look({file}, 3.1);
  CHECK(grown.ready.empty());
  CHECK(grown.growing == std::vector<std::string>{file});
  CHECK(standing.look({file}, 6.0).ready.empty());
  CHECK_FALSE(standing.told(file));
  CHECK(standing.look({file}, 6.2).ready == std::vector<std::string>{file});
  CHECK(standing.told(file));
  CHECK(standing.look({file}, 9.9).ready.empty());
}

TEST_CASE("a file that holds nothing is waited for, however long it has stood still") {
  const TemporaryFolder folder;
  const std::string file = write_file(folder / "spin.wav", "").string();
  StandingFiles standing(1.0);
  CHECK(standing.look({file}, 0.0).growing.empty());
  CHECK(standing.look({file}, 5.0).growing == std::vector<std::string>{file});
  CHECK(standing.look({file}, 50.0).growing.empty());
  write_file(file, "it came after all");
  CHECK(standing.look({file}, 51.0).ready.empty());
  CHECK(standing.look({file}, 52.0).ready == std::vector<std::string>{file});
}

TEST_CASE("a file that changes after it was taken is told once, and is not taken again") {
  const TemporaryFolder folder;
  const std::string file = write_file(folder / "spin.wav", "half").string();
  StandingFiles standing(0.0);
  CHECK(standing.look({file}, 0.0).ready.size() == 1);
  write_file(file, "half and half");
  const auto look = standing.look({file}, 10.0);
  CHECK(look.ready.empty());
  CHECK(look.changed == std::vector<std::string>{file});
  write_file(file, "half and half and half");
  CHECK(standing.look({file}, 20.0).changed.empty());
  CHECK(standing.look({file}, 30.0).ready.empty());
}

TEST_CASE("a file that goes away while it is waited for is forgotten") {
  const TemporaryFolder folder;
  const std::string file = write_file(folder / "spin.wav", "half").string();
  StandingFiles standing(1.0);
  standing.look({file}, 0.0);
  std::filesystem::remove(file);
  CHECK(standing.look({file}, 5.0).ready.empty());
  CHECK(standing.look({}, 6.0).ready.empty());
  write_file(file, "half");
  CHECK(standing.look({file}, 7.0).ready.empty());
  CHECK(standing.look({file}, 8.0).ready == std::vector<std::string>{file});
}
