#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "support.hpp"

using namespace counterspot::test;

namespace {

/// One line of cases.txt: arguments | exit code | the sentence.
struct Case {
  std::vector<std::string> arguments;
  int exit_code = 0;
  std::string sentence;
};

std::vector<std::string> words(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> list;
  for (std::string word; stream >> word;) list.push_back(word);
  return list;
}

std::vector<Case> cases() {
  std::ifstream file(source_file("tests/broken/files/cases.txt"));
  std::vector<Case> list;
  for (std::string line; std::getline(file, line);) {
    auto first = line.find(" | ");
    auto second = line.find(" | ", first + 3);
    list.push_back(
        {words(line.substr(0, first)), std::stoi(line.substr(first + 3, second - first - 3)), line.substr(second + 3)});
  }
  return list;
}

}  // namespace

TEST_CASE(
    "every broken file or command line gets its one sentence, one remedy, its exit code, and nothing on standard "
    "output") {
  auto list = cases();
  REQUIRE(list.size() >= 40);
  for (const Case& broken : list) {
    CAPTURE(broken.arguments);
    Ran ran = run_program(broken.arguments, "/dev/null", source_file("tests/broken/files"));
    CHECK(ran.exit_code == broken.exit_code);
    CHECK(ran.out.empty());
    std::istringstream lines(ran.err);
    std::string error, mend, more;
    std::getline(lines, error);
    std::getline(lines, mend);
    std::getline(lines, more);
    CHECK(error == "error: " + broken.sentence);
    CHECK(mend.substr(0, 7) == " mend: ");
    CHECK(mend.size() > 12);
    CHECK(more.empty());
  }
}
