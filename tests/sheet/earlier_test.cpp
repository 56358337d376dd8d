// A sheet that an earlier program wrote is held against the record by the keys that it has. Kept: what that program
// wrote.
#include <fmt/format.h>

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

/// Nothing that a program of form 2 wrote is left: its sheet had every key of form 3 but the signatures.
Json sheet_of_form(int form) {
  Json sheet = Json::parse(kept(fmt::format("sheet-form-{}.json", form == 2 ? 3 : form)));
  if (form == 2) sheet.erase("signatures");
  return sheet;
}

/// The job as the program of that form exported it.
Verified held_against_record(const Json& sheet, int form = 1) {
  return verified_sheet(sheet.dump(), exported_in(kept(fmt::format("jobs-form-{}.jsonl", form == 2 ? 3 : form))), {});
}

}  // namespace

TEST_CASE("a sheet of an earlier program is what was kept, and is said to be of its form") {
  for (const int form : {1, 2, 3}) {
    const Verified found = held_against_record(sheet_of_form(form), form);
    CAPTURE(form);
    CHECK(found.faults == std::vector<std::string>{});
    CHECK(found.sheet_form == form);
  }
}

TEST_CASE("what was changed on a sheet of an earlier program is named") {
  for (const int form : {1, 2, 3}) {
    Json sheet = sheet_of_form(form);
    sheet["verdict"] = "outside";
    CAPTURE(form);
    CHECK(held_against_record(sheet, form).faults ==
          std::vector<std::string>{"at /verdict the sheet says \"outside\", and the record \"within\""});
  }
}

TEST_CASE("an order and a signature on a sheet of an earlier program are held against the record") {
  const Json sheet = sheet_of_form(3);
  REQUIRE(sheet["order"]["customer"] == "Marrow Creek Irrigation");
  REQUIRE(sheet["signatures"].size() == 1);
  for (const auto& [where, said] : {std::pair{"/order/customer", "somebody else"},
                                    {"/signatures/0/signed_by", "somebody else"},
                                    {"/places/0/residual_angle_deg", "1"}}) {
    Json changed = sheet;
    changed[Json::json_pointer(where)] = said;
    const auto faults = held_against_record(changed, 3).faults;
    CAPTURE(where, faults);
    REQUIRE(faults.size() == 1);
    CHECK(faults.front().find(where) != std::string::npos);
  }
  Json unsigned_sheet = sheet;
  unsigned_sheet["signatures"].clear();
  CHECK_FALSE(held_against_record(unsigned_sheet, 3).faults.empty());
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
