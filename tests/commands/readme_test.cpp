#include <catch2/catch.hpp>
#include <sstream>

#include "counterspot/units/warning.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// One "$ counterspot …" of a console block, and what it says is printed.
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

TEST_CASE("every example in the README and in the manuals prints what they say") {
  const auto [file, at_least] = GENERATE(table<std::string, std::size_t>({{"README.md", 2},
                                                                          {"src/manual/inspector.md", 2},
                                                                          {"src/manual/analyst.md", 3},
                                                                          {"src/manual/rig-owner.md", 1}}));
  CAPTURE(file);
  auto examples = examples_in(read_file(source_file(file)));
  REQUIRE(examples.size() >= at_least);
  for (const Example& example : examples) {
    CAPTURE(example.arguments);
    CHECK(run_program(example.arguments, "/dev/null", source_file("data")).out == example.printed);
  }
}

TEST_CASE("every warning there is has its row in the manual, which says whether it holds a verdict back") {
  const std::string manual = read_file(source_file("src/manual/analyst.md"));
  for (int code = 0; code <= static_cast<int>(WarningCode::share_bounded); ++code) {
    const auto warning = static_cast<WarningCode>(code);
    const auto row = manual.find("| `" + warning_code(warning) + "` |");
    CAPTURE(warning_code(warning));
    REQUIRE(row != std::string::npos);
    CHECK(manual.substr(row, manual.find('\n', row) - row).ends_with("| yes |") == holds_back(warning));
  }
}
