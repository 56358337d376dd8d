// What the shop states of an order is on the sheet, and what it does not is a line to write on.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <regex>

#include "counterspot/sheet/sheet.hpp"
#include "counterspot/units/error.hpp"
#include "sheet/story.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

constexpr const char* order =
    "[order]\ncustomer = \"Marrow Creek Irrigation\"\nnumber = \"4500123\"\npart = \"MC-0417\"\nserial = \"0417-22\"\n"
    "shop = \"Marrow Creek Shaftworks\"\nbalanced_by = \"K. Osei\"\ninspected_by = \"R. Feld\"\nfixed_by = \"welded\"\n"
    "limits_by = \"drawing 4711\"\n";

std::size_t lines_to_write_on(const Picture& page) {
  std::size_t lines = 0;
  for (const Shape& shape : page.shapes) lines += shape.meaning == "to write on" ? 1 : 0;
  return lines;
}

}  // namespace

TEST_CASE("an order in the shaft's file fills the sheet's fields, and nothing is left to write on") {
  Story story("PS-1042", 2, 2e-5, order);
  story.usual();
  const Sheet sheet = sheet_of(story.job);
  CHECK(lines_to_write_on(sheet_pages(sheet).front()) == 0);
  const std::string text = story.text_of_sheet();
  for (const char* said : {"Marrow Creek Irrigation", "4500123", "MC-0417", "0417-22", "Marrow Creek Shaftworks",
                           "K. Osei", "R. Feld", "welded"}) {
    INFO(said);
    CHECK(text.find(said) != std::string::npos);
    CHECK(sheet_html(sheet).find(said) != std::string::npos);
  }
  const Json json = Json::parse(sheet_json(sheet))["order"];
  CHECK(json["customer"] == "Marrow Creek Irrigation");
  CHECK(json["serial"] == "0417-22");
}

TEST_CASE("the sheet shows of an order what was stated last, and what was stated after the close with its date") {
  Story story("PS-1042", 2, 2e-5, order);
  story.usual();
  WorkOrder later;
  later.inspected_by = "B. Amadi";
  const int number = static_cast<int>(story.job.events.size()) + 1;
  story.job = story.log.append(story.job, Ordered{later}, "counterspot 0.1.0", 1764072000);
  const Json json = Json::parse(sheet_json(sheet_of(story.job)))["order"];
  CHECK(json["inspected_by"] == "B. Amadi");
  CHECK(json["customer"] == "Marrow Creek Irrigation");
  const std::string said =
      fmt::format("stated after the close, on 2025-11-25 12:00 UTC (entry {}): inspected by: B. Amadi", number);
  CHECK(sheet_html(sheet_of(story.job)).find(said) != std::string::npos);
  CHECK(story.text_of_sheet().find("stated after the close") != std::string::npos);
  CHECK(sheet_html(sheet_of(story.job), german()).find("nach dem Abschluss angegeben") != std::string::npos);
}

TEST_CASE("fields that nobody filled are lines to write on") {
  Story story("PS-1042", 2);
  story.usual();
  const Sheet sheet = sheet_of(story.job);
  CHECK(lines_to_write_on(sheet_pages(sheet).front()) == 8);
  CHECK(Json::parse(sheet_json(sheet))["order"]["customer"].is_null());
}

TEST_CASE("limits that were typed are not called limits by a standard, and who set them is said") {
  const std::string shaft = story_shaft_text("PS-1042", 2);
  const std::string typed =
      std::regex_replace(shaft, std::regex("grade = \"G16\""), "limit = { A = \"350 g·mm\", B = \"350 g·mm\" }");
  Story story("PS-1042", 2);
  story.job.shaft_file = {"shaft.toml", typed + order};
  const Sheet sheet = sheet_of(story.job);
  story.usual();
  Sheet closed = sheet_of(story.job);
  closed.limits = sheet.limits;
  closed.order = sheet.order;
  const std::string html = sheet_html(closed);
  CHECK(html.find("ISO 21940") == std::string::npos);
  CHECK(html.find("set by drawing 4711") != std::string::npos);
  closed.order.limits_by.clear();
  CHECK(sheet_html(closed).find("drawing 4711") == std::string::npos);
}

TEST_CASE("no sheet says that something is from memory") {
  Story story("PS-1042", 2);
  story.usual();
  for (const Words* words : {&english(), &german()}) {
    const std::string html = sheet_html(sheet_of(story.job), *words);
    CHECK(html.find("memory") == std::string::npos);
    CHECK(html.find("ISO 21940-11") != std::string::npos);  // of the grade, whose formula is checked by its own example
  }
}

TEST_CASE("an order with a key that there is not, or with a line's end, is refused") {
  for (const char* wrong : {"[order]\ncostumer = \"x\"\n", "[order]\ncustomer = \"a\\nb\"\n"}) {
    INFO(wrong);
    CHECK_THROWS_AS(Story("PS-1042", 2, 2e-5, wrong), Error);
  }
}

TEST_CASE("in inches there is nothing metric left on a sheet") {
  Story story("PS-1042", 2);
  story.usual();
  const std::string text = story.text_of_sheet({"--units", "inch"});
  CHECK(text.find("oz·in") != std::string::npos);
  for (const char* metric : {"g·mm", " mm", " kg", " µm"}) {
    INFO(metric << " in\n" << text);
    CHECK(text.find(metric) == std::string::npos);
  }
}
