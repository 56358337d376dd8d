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
  CHECK(all[1].message == "a line at 24.2 and 50.0 Hz");
  CHECK(all[1].spins == std::vector<std::string>{"as found", "trial at A"});
  CHECK(all[1].sensors == std::vector<std::string>{"A", "B"});
  CHECK(sentence_of(all[1]).starts_with("spins 'as found', 'trial at A': "));
  CHECK(gathered(all).size() == all.size());
}

TEST_CASE("of many sentences of one kind the first three are said, and how many more there are") {
  Warnings said;
  for (const char* what : {"bolt", "joint", "belt", "gear", "fan"})
    said.push_back({WarningCode::knocks, std::nullopt, std::string("knocks at the ") + what});
  CHECK(gathered(said).front().message ==
        "knocks at the bolt, knocks at the joint, knocks at the belt, and 2 more like it");
}

// Two lines at two sensors of three spins, as the demo's rig has them.
TEST_CASE("steady lines at all sensors in all spins are one note, in short") {
  Warnings said;
  for (const char* spin : {"as found", "trial at A", "trial at B"})
    for (const char* sensor : {"B", "A"})
      for (const char* line : {"50.0", "24.2"})
        said.push_back({WarningCode::interference,
                        sensor,
                        std::string("sensor ") + sensor + ": a steady line at " + line +
                            " Hz was fitted along; look for its source",
                        {spin}});
  const Warnings all = gathered(said);
  REQUIRE(all.size() == 1);
  CHECK(all[0].message == "sensors A and B: steady lines at 24.2 and 50.0 Hz were fitted along");
  CHECK(holds_for_all(all[0], {"as found", "trial at A", "trial at B"}));
  CHECK(all[0].spins.size() == 3);
  CHECK(gathered(all).front().message == all[0].message);
  CHECK_FALSE(holds_for_all(all[0], {"as found", "trial at A", "trial at B", "corrected"}));
}

TEST_CASE("where a figure is another in every spin the least and the largest are said") {
  Warnings said;
  for (const char* share : {"0.4", "1.2", "0.9", "0.7"})
    said.push_back(
        {WarningCode::speed_drift, std::nullopt, std::string("the speed changed by ") + share + " % during the spin"});
  CHECK(gathered(said).front().message == "the speed changed by 0.4 to 1.2 % during the spin");
  CHECK(figures_in(gathered(said).front().message) == std::vector<std::string>{"0.4 to 1.2 %"});
}

TEST_CASE("what is in doubt comes first, then what asks for something, and at the end what changes nothing") {
  const Warnings all = gathered({{WarningCode::interference, "A", "sensor A: a line"},
                                 {WarningCode::order_2_dominant, "A", "sensor A: order 2"},
                                 {WarningCode::loose_cable, "B", "sensor B: the signal steps"}});
  REQUIRE(all.size() == 3);
  CHECK(severity_of(all[0].code) == Severity::holds_back);
  CHECK(severity_of(all[1].code) == Severity::warning);
  CHECK(severity_of(all[2].code) == Severity::note);
}

TEST_CASE("what asks for nothing is a note: no alarm without a response") {
  for (const WarningCode code : all_codes()) {
    CAPTURE(warning_code(code));
    if (remedy_of(code).starts_with("nothing")) CHECK(severity_of(code) == Severity::note);
    CHECK(holds_back(code) == (severity_of(code) == Severity::holds_back));
  }
}

TEST_CASE("the figures of a sentence are its numbers with their units") {
  CHECK(figures_in("tach: the sensors speak for 811 rpm and not for 1622, as if the tach saw 2 marks a turn") ==
        std::vector<std::string>{"811 rpm"});
  CHECK(figures_in("steady lines at 24.2 and 50.0 Hz were fitted along") ==
        std::vector<std::string>{"24.2 and 50.0 Hz"});
  CHECK(figures_in("the 3 spins contradict one another").empty());
}
