// Each code that a refusal of the program has is said in German too.
#include <catch2/catch.hpp>
#include <filesystem>
#include <regex>
#include <set>

#include "counterspot/drawing/words.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("each refusal in the sources has its German words and its German remedy") {
  // Of the library for other languages, of a build without a part, and of our own slips: nobody at a rig is told these.
  const std::set<std::string> not_for_people = {"bad_argument"};
  const std::regex thrown("Trouble::(request|recording|machine),\\s*\"([a-z_0-9]+)\"");
  std::set<std::string> codes;
  for (const auto& file : std::filesystem::recursive_directory_iterator(source_file("src"))) {
    if (file.path().extension() != ".cpp" && file.path().extension() != ".hpp") continue;
    const std::string text = read_file(file.path());
    for (std::sregex_iterator found(text.begin(), text.end(), thrown), end; found != end; ++found)
      codes.insert((*found)[2]);
  }
  CHECK(codes.size() > 100);
  for (const std::string& code : codes) {
    if (not_for_people.contains(code)) continue;
    INFO(code);
    CHECK_FALSE(german().of_warning(code).empty());
    CHECK_FALSE(german().of_remedy(code).empty());
  }
}
