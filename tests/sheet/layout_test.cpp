// Nothing on a sheet is printed over anything else, and nothing leaves the paper: asked of the boxes of all its texts,
// as they are drawn.

#include <catch2/catch.hpp>
#include <random>

#include "counterspot/sheet/sheet.hpp"
#include "sheet/overlaps.hpp"
#include "sheet/random_sheet.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("over 300 random jobs no two texts of a sheet overlap, and none leaves the paper") {
  std::mt19937 random(2021);
  std::vector<int> with_pages(8, 0);
  int worst = 0;
  for (int job = 0; job < 300; ++job) {
    const RandomSheet drawn = random_sheet(random);
    const std::vector<Picture> pages = sheet_pages(drawn.sheet, *drawn.words, drawn.units, drawn.paper);
    ++with_pages[std::min<std::size_t>(pages.size(), 7)];
    const std::vector<std::string> faults = overlaps_of(pages);
    CAPTURE(job, faults);
    CHECK(faults.empty());
    if (!faults.empty() && ++worst > 12) break;
  }
  INFO("one, two, three pages: " << with_pages[1] << ", " << with_pages[2] << ", " << with_pages[3]);
  CHECK(with_pages[1] > 20);
  CHECK(with_pages[2] > 20);
  CHECK(with_pages[3] > 5);
}

TEST_CASE("the test of overlaps would see one") {
  Picture page{"", 210.0, 297.0, {}};
  page.shapes.push_back({Role::text, Lettering{{50.0, 50.0}, "38.1", 3.0}});
  page.shapes.push_back({Role::text, Lettering{{52.0, 51.0}, "343", 3.0}});
  page.shapes.push_back({Role::text, Lettering{{195.0, 100.0}, "over the edge", 3.0}});
  CHECK(overlaps_of({page}).size() == 2);
}
