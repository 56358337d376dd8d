// What an operator reads of a warning: first what it means for the answer, then what was noticed, then what to do.
#include <catch2/catch.hpp>

#include "report/text.hpp"
#include "units/warning_table.hpp"

using namespace counterspot;

TEST_CASE("every warning has its consequence for the answer in both languages, a note none, for it changes nothing") {
  for (int i = 0; i <= static_cast<int>(WarningCode::share_bounded); ++i) {
    const auto code = static_cast<WarningCode>(i);
    CAPTURE(warning_code(code));
    const bool note = severity_of(code) == Severity::note;
    CHECK(consequence_of(code, "en").empty() == note);
    CHECK(consequence_of(code, "de").empty() == note);
    if (!note) CHECK(consequence_of(code, "en") != consequence_of(code, "de"));
  }
}

TEST_CASE("a line of warning says the consequence, the cause and the remedy, once for all sensors and spins") {
  Warnings noticed;
  for (const char* spin : {"as found", "trial at A"}) {
    for (const char* sensor : {"A", "B"})
      noticed.push_back({WarningCode::clipped,
                         sensor,
                         std::string("sensor ") + sensor +
                             ": 3 samples stand at the end of the converter's range; lower the gain and record again",
                         {spin}});
    noticed.push_back({WarningCode::interference,
                       "A",
                       "sensor A: a steady line at 24.2 Hz was fitted along; look for its source",
                       {spin}});
  }
  CHECK(lines_of(noticed, english(), {"as found", "trial at A"}) ==
        std::vector<std::string>{
            "warning: all spins: the reading may be too small: sensors A and B: 3 samples stand at the end of the "
            "converter's range; lower the gain and spin again",
            "note: all spins: sensor A: a steady line at 24.2 Hz was fitted along"});
  CHECK(lines_of(noticed, german()) ==
        std::vector<std::string>{
            "Warnung: Messläufe 'as found', 'trial at A': die Anzeige kann zu klein sein: Aufnehmer A, B: Signal am "
            "Anschlag des Wandlers; Verstärkung senken und nochmals messen",
            "Hinweis: Messläufe 'as found', 'trial at A': Aufnehmer A: fremde Schwingung nahe der Ordnung, mit "
            "ausgeglichen (24,2 Hz)"});
}

TEST_CASE("a remedy of its own, with a figure, goes before that of the code") {
  Warning beating{WarningCode::beating, "A", "sensor A: the noise rises towards the order"};
  beating.remedy = "record 40 s, or spin at another speed";
  CHECK(lines_of({beating}, english()).at(0) ==
        "warning: the reading is less sure: sensor A: the noise rises towards the order; record 40 s, or spin at "
        "another speed");
}
