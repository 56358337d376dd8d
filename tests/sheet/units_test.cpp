// A sheet has one system of units throughout, in every text of its pages and of its HTML.
#include <catch2/catch.hpp>
#include <random>
#include <regex>
#include <sstream>

#include "counterspot/sheet/sheet.hpp"
#include "sheet/random_sheet.hpp"
#include "sheet/story.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// A number with a unit of that system, or the head of a column.
std::regex units_of(UnitSystem units) {
  return std::regex(units == UnitSystem::metric ? "(\\d (g|kg|mm|m|µm|g·mm)([^a-zA-Z·]|$))|, g·mm"
                                                : "(\\d (in|oz|lb|mil|oz·in)([^a-zA-Z·]|$))|, oz·in");
}

void has_only(const std::string& text, UnitSystem units) {
  const UnitSystem other = units == UnitSystem::metric ? UnitSystem::inch : UnitSystem::metric;
  std::smatch found;
  const bool mixed = std::regex_search(text, found, units_of(other));
  INFO(text.substr(0, 200) << " has " << (mixed ? found.str() : ""));
  CHECK_FALSE(mixed);
}

std::string without_pictures(std::string html) {
  for (std::size_t at = html.find(" src=\""); at != std::string::npos; at = html.find(" src=\"", at))
    html.erase(at, html.find('"', at + 6) + 1 - at);
  return html;
}

}  // namespace

TEST_CASE("a sheet in inches and ounces has no millimetre and no gram, and the other way round") {
  std::mt19937 random(7);
  std::size_t seen = 0;
  for (int job = 0; job < 60; ++job) {
    RandomSheet drawn = random_sheet(random);
    drawn.sheet.to_fit = drawn.sheet.to_fit_bare = drawn.sheet.trials = drawn.sheet.pieces;
    for (const UnitSystem units : {UnitSystem::metric, UnitSystem::inch}) {
      for (ClockFace& face : drawn.sheet.faces) face.units = units;
      for (VectorDiagram& diagram : drawn.sheet.diagrams) diagram.units = units;
      for (const Picture& page : sheet_pages(drawn.sheet, *drawn.words, units, drawn.paper)) {
        for (const Shape& shape : page.shapes) {
          const auto* words = std::get_if<Lettering>(&shape.form);
          if (words == nullptr) continue;
          has_only(words->words, units);
          seen += std::regex_search(words->words, units_of(units)) ? 1 : 0;
        }
      }
    }
  }
  CHECK(seen > 1000);
}

TEST_CASE("the HTML of a sheet has one system of units") {
  Story story("PS-1042", 3);
  story.usual();
  for (const UnitSystem units : {UnitSystem::metric, UnitSystem::inch}) {
    const std::string html = without_pictures(sheet_html(sheet_of(story.job, units), german(), units));
    std::istringstream lines(html);  // a line at a time: the library's search goes deeper with every letter
    for (std::string line; std::getline(lines, line);) has_only(line, units);
    CHECK(html.find(units == UnitSystem::metric ? " mm<" : " in<") != std::string::npos);
  }
}
