#include "broken_cases.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "support.hpp"

namespace counterspot::test {

namespace {

std::vector<std::string> words(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> list;
  for (std::string word; stream >> word;) list.push_back(word);
  return list;
}

}  // namespace

std::vector<BrokenCase> broken_cases(const std::string& folder) {
  std::ifstream file(source_file(folder + "/cases.txt"));
  std::vector<BrokenCase> list;
  for (std::string line; std::getline(file, line);) {
    auto first = line.find(" | ");
    auto second = line.find(" | ", first + 3);
    list.push_back(
        {words(line.substr(0, first)), std::stoi(line.substr(first + 3, second - first - 3)), line.substr(second + 3)});
  }
  return list;
}

void check_broken(const BrokenCase& broken, const std::string& folder) {
  CAPTURE(broken.arguments);
  Ran ran = run_program(broken.arguments, "/dev/null", source_file(folder));
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

}  // namespace counterspot::test
