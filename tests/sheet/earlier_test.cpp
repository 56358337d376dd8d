// A sheet that an earlier program wrote is held against the record by the keys that it has. Kept: what that program
// wrote.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "counterspot/sheet/sheet.hpp"
#include "counterspot/sheet/verify.hpp"
#include "error_code.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

std::string kept(const std::string& name) {
  return read_file(source_file("tests/sheet/kept/earlier/" + name));
}

Verified held_against_record(const Json& sheet) {
  return verified_sheet(sheet.dump(), exported_in(kept("jobs-form-1.jsonl")), {});
}

}  // namespace

TEST_CASE("a sheet of an earlier program is what was kept, and is said to be of its form") {
  const Verified found = held_against_record(Json::parse(kept("sheet-form-1.json")));
  CHECK(found.faults == std::vector<std::string>{});
  CHECK(found.sheet_form == 1);
}

TEST_CASE("what was changed on a sheet of an earlier program is named") {
  Json sheet = Json::parse(kept("sheet-form-1.json"));
  sheet["verdict"] = "outside";
  CHECK(held_against_record(sheet).faults ==
        std::vector<std::string>{"at /verdict the sheet says \"outside\", and the record \"within\""});
}

TEST_CASE("a key that was taken off a sheet is missed, whatever form it is of") {
  Json sheet = Json::parse(kept("sheet-form-1.json"));
  sheet.erase("held_back");
  CHECK(held_against_record(sheet).faults.size() == 1);

  const Exported exported = exported_in(kept("jobs-form-1.jsonl"));
  const Json now = Json::parse(sheet_json(sheet_of(exported.jobs.front())));
  CHECK(now["form"] == sheet_form);
  CHECK(held_against_record(now).faults.empty());
  CHECK_FALSE(held_against_record(now).sheet_form);
  for (const char* key : {"signatures", "order", "permissible_total_gmm", "held_back"}) {
    INFO(key);
    Json without = now;
    without.erase(key);
    CHECK(held_against_record(without).faults.size() == 1);
  }
}

TEST_CASE("a sheet of a later program is not judged by one that does not know its keys") {
  Json later = Json::parse(kept("sheet-form-1.json"));
  later["form"] = sheet_form + 1;
  CHECK(code_of([&] { held_against_record(later); }) == "bad_sheet");
}
