// No two texts of a picture lie over one another, and none leaves the paper: asked of the boxes of all its texts, as
// they are drawn.
#include <catch2/catch.hpp>
#include <random>

#include "counterspot/drawing/titled.hpp"
#include "drawing/random_pictures.hpp"
#include "examples.hpp"
#include "sheet/overlaps.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr Margins to_the_edge{0.0, 0.0};

}  // namespace

TEST_CASE("over 300 random pictures of every command no two texts overlap, and none leaves the paper") {
  std::mt19937 random(1940);
  constexpr int cases = 306;
  static_assert(cases % kinds_drawn == 0);
  int worst = 0;
  for (int i = 0; i < cases; ++i) {
    const Words& words = i / kinds_drawn % 2 == 0 ? english() : german();
    const Picture picture = random_picture(random, static_cast<Drawn>(i % kinds_drawn), words);
    const std::vector<std::string> faults = overlaps_of({picture}, to_the_edge);
    CAPTURE(i, i % kinds_drawn, words.language, faults);
    CHECK(faults.empty());
    if (!faults.empty() && ++worst > 12) break;
  }
}

TEST_CASE("no two texts of the kept pictures overlap") {
  for (const auto& [name, picture] : example_pictures()) {
    const std::vector<std::string> faults = overlaps_of({picture}, to_the_edge);
    CAPTURE(name, faults);
    CHECK(faults.empty());
  }
}

TEST_CASE("the line over a picture says what is known of it, and nothing else") {
  PictureOf of;
  of.shaft = "PS-1042";
  of.units = UnitSystem::inch;
  of.speed_rad_s = rad_per_s(1622.0);
  of.verdict = Verdict::within;
  const auto said = words_meaning(titled(clock_picture(example_face()), of, german()), "title");
  std::vector<std::string> words;
  for (const Lettering& text : said) words.push_back(text.words);
  CHECK(words == std::vector<std::string>{"Welle PS-1042", "1622 min⁻¹", "Bewertung: innerhalb", "Zoll-Einheiten"});
}

TEST_CASE("a name that is too long is cut where it would be too small to read, and says so") {
  PictureOf of;
  of.shaft = std::string(400, 'W');
  const auto said = words_meaning(titled(clock_picture(example_face()), of), "title");
  CHECK(said.front().words.ends_with("…"));
  CHECK(said.front().words.size() < 200);
}
