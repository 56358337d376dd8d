#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <cstdio>
#include <filesystem>
#include <sstream>

#include "counterspot/units/warning.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// One "$ counterspot …" of a console block, and what is seen of it.
struct Example {
  std::string command;
  std::string seen;
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
      examples.push_back({line.substr(2), ""});
    } else if (in_block) {
      examples.back().seen += line + "\n";
    }
  }
  return examples;
}

std::vector<std::string> lines_of_block(const std::string& text, const std::string& fence) {
  std::vector<std::string> block;
  std::istringstream lines(text.substr(text.find("\n" + fence + "\n") + fence.size() + 2));
  for (std::string line; std::getline(lines, line) && line != "```";) block.push_back(line);
  return block;
}

struct Seen {
  int exit_code = -1;
  std::string text;  ///< both outputs, in the order in which they came
};

/// As typed at a terminal in a folder, with a log of its own.
Seen seen_of(const std::string& command, const std::filesystem::path& folder, const std::filesystem::path& log) {
  Seen seen;
  // A comment ends the line, so what is redirected stands before it.
  const auto comment = command.find(" #");
  const std::string bare = comment == std::string::npos ? command : command.substr(0, comment);
  FILE* pipe =
      popen(("cd '" + folder.string() + "' && XDG_DATA_HOME='" + log.string() + "' '" + program_path().string() + "'" +
             bare.substr(std::string("counterspot").size()) + " 2>&1 < /dev/null")
                .c_str(),
            "r");
  REQUIRE(pipe != nullptr);
  for (int letter = std::fgetc(pipe); letter != EOF; letter = std::fgetc(pipe))
    seen.text.push_back(static_cast<char>(letter));
  seen.exit_code = WEXITSTATUS(pclose(pipe));
  return seen;
}

}  // namespace

TEST_CASE("every example in the README and in the manuals shows what is seen, warnings and notes too") {
  const auto [file, at_least] = GENERATE(table<std::string, std::size_t>({{"README.md", 2},
                                                                          {"src/manual/inspector.md", 2},
                                                                          {"src/manual/analyst.md", 3},
                                                                          {"src/manual/rig-owner.md", 1}}));
  CAPTURE(file);
  const TemporaryFolder log;
  auto examples = examples_in(read_file(source_file(file)));
  REQUIRE(examples.size() >= at_least);
  for (const Example& example : examples) {
    CAPTURE(example.command);
    CHECK(seen_of(example.command, source_file("data"), log.path()).text == example.seen);
  }
}

TEST_CASE("the job on one screen of the README can be typed as it stands, and ends within limit") {
  const TemporaryFolder folder;
  for (const auto& entry : std::filesystem::directory_iterator(source_file("data")))
    if (entry.is_regular_file()) std::filesystem::copy(entry.path(), folder / entry.path().filename().string());
  const auto lines = lines_of_block(read_file(source_file("README.md")), "```sh");
  REQUIRE(lines.size() >= 10);
  for (const std::string& line : lines) {
    const Seen seen = seen_of(line, folder.path(), folder.path());
    CAPTURE(line, seen.text);
    CHECK(seen.exit_code == 0);
    if (line.starts_with("counterspot job fit \"A 15 g")) {
      CHECK(seen.text.find("STATED as entry 2; 'job back 2 --reason …' takes it back") == 0);
      CHECK(seen.text.find("now on the shaft: (1) plane A: 15.0 g at 0.0 deg, radius 39 mm") != std::string::npos);
      CHECK(seen.text.find("asked for, on top of what was on: plane A: 17.6 g") != std::string::npos);
    }
    if (line.starts_with("counterspot job close"))
      CHECK(seen.text.find(
                "NEXT  Mark the shaft as within limit, and have its sheet signed: counterspot sheet MC-0417/1") !=
            std::string::npos);
  }
  const Seen open = seen_of("counterspot job open shaft.toml --rig rig.toml", folder.path(), folder.path());
  CHECK(open.exit_code == 0);
  seen_of("counterspot job fit \"A 3 g @ 1:00\" --as-typed", folder.path(), folder.path());
  const Seen back = seen_of("counterspot job back 1 --reason slip", folder.path(), folder.path());
  CHECK(back.text.find("TAKEN BACK  entry 1, on the shaft from here on\n  plane A: 3.0 g at 30.0 deg") == 0);
}

TEST_CASE("the vectors of all sensors may stand behind one --vector, and that of no sensor is refused") {
  const TemporaryFolder folder;
  for (const char* file : {"rig.toml", "shaft.toml"}) std::filesystem::copy(source_file("data") / file, folder / file);
  const auto typed = [&](const std::string& command) { return seen_of(command, folder.path(), folder.path()); };
  CHECK(typed("counterspot job open shaft.toml --rig rig.toml").exit_code == 0);
  const std::string a = "\"A=6.0 mm/s @ 35 deg ± 0.1 mm/s\"";
  CHECK(typed("counterspot job spin --vector " + a + " \"B=4.5 mm/s @ 230 deg ± 0.1 mm/s\" --speed \"1620 rpm\"")
            .exit_code == 0);
  const Seen unknown = typed("counterspot job spin --vector " + a + " \"C=1 mm/s @ 0 deg\"");
  CHECK(unknown.exit_code == 2);
  CHECK(unknown.text.find("is the vector of no sensor of this rig") != std::string::npos);
}

TEST_CASE("every warning there is has its row in the manual, which says how grave it is") {
  const std::string manual = read_file(source_file("src/manual/analyst.md"));
  for (int code = 0; code <= static_cast<int>(WarningCode::share_bounded); ++code) {
    const auto warning = static_cast<WarningCode>(code);
    const auto row = manual.find("| `" + warning_code(warning) + "` |");
    CAPTURE(warning_code(warning));
    REQUIRE(row != std::string::npos);
    const std::string whole = manual.substr(row, manual.find('\n', row) - row);
    CHECK(whole.ends_with("| yes |") == holds_back(warning));
    CHECK(whole.ends_with("| note |") == (severity_of(warning) == Severity::note));
  }
}
