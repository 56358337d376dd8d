#include "counterspot/units/warning.hpp"

#include <catch2/catch.hpp>
#include <set>

using namespace counterspot;

namespace {

std::vector<WarningCode> all_codes() {
  std::vector<WarningCode> codes;
  for (int code = 0; code <= static_cast<int>(WarningCode::share_bounded); ++code)
    codes.push_back(static_cast<WarningCode>(code));
  return codes;
}

}  // namespace

TEST_CASE("every kind of warning has one name, a remedy, and is found by its name") {
  std::set<std::string> names;
  for (const WarningCode code : all_codes()) {
    CAPTURE(warning_code(code));
    CHECK(names.insert(warning_code(code)).second);
    CHECK(warning_code_named(warning_code(code)) == code);
    CHECK_FALSE(remedy_of(code).empty());
  }
  CHECK_FALSE(names.contains("unknown"));
  CHECK_FALSE(warning_code_named("a word of another program").has_value());
}

TEST_CASE("what holds for several spins and sensors is said once, with all of them") {
  const Warnings said = {{WarningCode::interference, "A", "a line at 24.2 Hz", {"as found"}},
                         {WarningCode::loose_cable, "B", "the signal steps", {"trial at A"}},
                         {WarningCode::interference, "B", "a line at 50.0 Hz", {"as found"}},
                         {WarningCode::interference, "A", "a line at 24.2 Hz", {"trial at A"}}};
  const Warnings all = gathered(said);
  REQUIRE(all.size() == 2);
  CHECK(all[0].code == WarningCode::loose_cable);  // it holds a verdict back
  CHECK(sentence_of(all[0]) == "spin 'trial at A': the signal steps");
  CHECK(all[1].message == "a line at 24.2 Hz; a line at 50.0 Hz");
  CHECK(all[1].spins == std::vector<std::string>{"as found", "trial at A"});
  CHECK(all[1].sensors == std::vector<std::string>{"A", "B"});
  CHECK(sentence_of(all[1]).starts_with("spins 'as found', 'trial at A': "));
  CHECK(gathered(all).size() == all.size());
}

TEST_CASE("of many sentences of one kind the first three are said, and how many more there are") {
  Warnings said;
  for (int i = 1; i <= 5; ++i) said.push_back({WarningCode::knocks, std::nullopt, "knock " + std::to_string(i)});
  CHECK(gathered(said).front().message == "knock 1; knock 2; knock 3; and 2 more like it");
}
