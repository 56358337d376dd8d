// What the commands answer in German, by the tables that English goes by.
#include <array>
#include <bit>
#include <catch2/catch.hpp>
#include <cstdlib>

#include "counterspot/drawing/command_words.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

using Texts = std::array<const char*, sizeof(CommandWords) / sizeof(const char*)>;

int places_in(std::string_view text) {
  int count = 0;
  for (std::size_t at = text.find('{'); at != std::string_view::npos; at = text.find('{', at + 1)) ++count;
  return count;
}

bool holds(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("every text of the commands is there in both languages, with room for the same numbers") {
  const auto in_english = std::bit_cast<Texts>(english_commands());
  const auto in_german = std::bit_cast<Texts>(german_commands());
  for (std::size_t i = 0; i < in_english.size(); ++i) {
    REQUIRE(in_english[i] != nullptr);
    REQUIRE(in_german[i] != nullptr);
    CAPTURE(in_english[i], in_german[i]);
    CHECK(places_in(in_english[i]) == places_in(in_german[i]));
    CHECK_FALSE(std::string_view(in_german[i]).empty());
  }
}

// The words of the trade are those of DIN ISO 21940-2 and -11, from memory.
TEST_CASE("auf Deutsch: pruefen, messen, loesen, verteilen, zulaessige Restunwucht, die Welle selbst") {
  const auto said = [](std::vector<std::string> arguments) {
    arguments.insert(arguments.end(), {"--language", "de"});
    const Ran ran = run_program(arguments, "/dev/null", source_file("data"));
    CAPTURE(arguments, ran.err);
    CHECK(ran.exit_code <= 1);
    for (const char* english_word : {" the ", " and ", " with ", " weight", "rpm", "limit", "SENSOR", " deg", "spin ",
                                     "NEXT", "VERDICT", "CAUTION", "warning", "note:"}) {
      CAPTURE(english_word);
      CHECK_FALSE(holds(ran.out + ran.err, english_word));
    }
    return ran;
  };
  CHECK(holds(said({"inspect", "00-as-found.flac", "--rig", "rig.toml"}).out, "AUFNEHMER A"));
  const Ran track = said({"track", "00-as-found.flac", "01-trial-a.flac", "--rig", "rig.toml"});
  CHECK(holds(track.out, "Nacheilung"));
  CHECK(holds(track.err,
              "Hinweis: alle Messläufe: Aufnehmer A, B: fremde Schwingung nahe der Ordnung, mit "
              "ausgeglichen (24,2 und 50,0 Hz)"));
  const Ran solve = said({"solve", "spins.toml"});
  CHECK(holds(solve.out, "BEWERTUNG  außerhalb"));
  CHECK(holds(solve.out, "jetzt  1393 ± 54 g·mm   zulässig 343 g·mm"));
  CHECK(holds(solve.err, "Messläufe auf eine Drehzahl umgerechnet (0,2 %; 1622 min⁻¹)"));
  const Ran budget = said({"solve", "spins.toml", "--budget"});
  CHECK(holds(budget.out, "Rauschen der Anzeigen"));
  CHECK(holds(budget.out, "Lager A"));
  CHECK_FALSE(holds(budget.out, "support"));
  CHECK(holds(said({"solve", "spins-verify.toml"}).out, "BEWERTUNG  innerhalb"));
  CHECK(holds(said({"place", "spins.toml", "--stock", "stock.toml"}).out, "abschneiden, Masse"));
  CHECK(holds(said({"limit", "--shaft", "shaft.toml"}).out, "ZULÄSSIGE RESTUNWUCHT"));
  CHECK(holds(said({"shaft", "shaft.toml"}).out, "TESTGEWICHTE"));
}

TEST_CASE("the locale chooses the language, and --language another; JSON has one form") {
  const auto verdict = [](const char* locale, std::vector<std::string> more) {
    std::vector<std::string> arguments{"limit", "--shaft", "shaft.toml"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    setenv("LC_ALL", locale, 1);
    const Ran ran = run_program(arguments, "/dev/null", source_file("data"));
    unsetenv("LC_ALL");
    return ran.out;
  };
  CHECK(holds(verdict("de_AT.UTF-8", {}), "ZULÄSSIGE RESTUNWUCHT"));
  CHECK(holds(verdict("de_AT.UTF-8", {"--language", "en"}), "PERMISSIBLE RESIDUAL UNBALANCE"));
  CHECK(holds(verdict("C", {}), "PERMISSIBLE RESIDUAL UNBALANCE"));
  CHECK(verdict("de_AT.UTF-8", {"--json"}) == verdict("C", {"--json"}));
}
