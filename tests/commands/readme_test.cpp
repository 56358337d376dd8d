#include <catch2/catch.hpp>
#include <sstream>

#include "support.hpp"

using namespace counterspot::test;

namespace {

/// One "$ counterspot …" of a console block in the README, and what it says is printed.
struct Example {
  std::vector<std::string> arguments;
  std::string printed;
};

std::vector<Example> examples_in(const std::string& text) {
  std::vector<Example> examples;
  std::istringstream lines(text);
  bool in_block = false;
  for (std::string line; std::getline(lines, line);) {
    if (line == "```console") {
      in_block = true;
    } else if (line == "```") {
      in_block = false;
    } else if (in_block && line.rfind("$ counterspot ", 0) == 0) {
      std::istringstream words(line.substr(14));
      examples.emplace_back();
      for (std::string word; words >> word;) examples.back().arguments.push_back(word);
    } else if (in_block) {
      examples.back().printed += line + "\n";
    }
  }
  return examples;
}

}  // namespace

TEST_CASE("every example in the README prints what the README says") {
  auto examples = examples_in(read_file(source_file("README.md")));
  REQUIRE(examples.size() >= 2);
  for (const Example& example : examples) {
    CAPTURE(example.arguments);
    CHECK(run_program(example.arguments, "/dev/null", source_file("data")).out == example.printed);
  }
}
