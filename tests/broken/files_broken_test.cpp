#include <catch2/catch.hpp>

#include "broken_cases.hpp"

using namespace counterspot::test;

TEST_CASE(
    "every broken file or command line gets its one sentence, one remedy, its exit code, and nothing on standard "
    "output") {
  auto list = broken_cases("tests/broken/files");
  REQUIRE(list.size() >= 40);
  for (const BrokenCase& broken : list) check_broken(broken, "tests/broken/files");
}
