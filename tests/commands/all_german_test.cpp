// Every command answers in German, and refuses in German what people get wrong most often; so no new text can stay in
// one language unseen. Terms are those of DIN ISO 21940-2 and -11, from memory.
#include <catch2/catch.hpp>
#include <regex>

#include "run_up.hpp"
#include "support.hpp"

using namespace counterspot::test;

namespace {

/// Words that no German text has. What is typed (keys, options, commands, file names) is taken out before.
constexpr const char* english_word =
    "\\b(the|and|with|from|of|not|weight|weights|spin|spins|shaft|sensor|plane|speed|rpm|limit|limits|verdict|within|"
    "outside|next|warning|note|error|mend|entry|entries|job|jobs|found|recordings?|log|sound|seal|signed|turns|"
    "resonance|order|deg|there|this|write|which|file|files|is|are|were|has|have|residual|permissible|caution)\\b";

/// Without what stays as it is typed: quoted and dotted names, options, addresses, and commands to copy.
std::string as_read(std::string text) {
  for (const char* typed : {"'[^'\n]*'", "`[^`\n]*`", "counterspot [a-z]+( [a-z]+)?", "--[a-z-]+( [^ \n]+)?",
                            "[^ \n]*[./][a-z0-9.-]+[^ \n]*", "\\[[a-z_.]+\\]", "[a-z_]+ = [^ \n]+", "job [a-z]+ ",
                            "rig [a-z]+ ", "[0-9]+ rpm"})
    text = std::regex_replace(text, std::regex(typed), " ");
  return text;
}

void check_german(const std::string& text) {
  std::smatch found;
  const std::string read = as_read(text);
  const bool has_english = std::regex_search(read, found, std::regex(english_word));
  INFO(text << "\n--- read as ---\n" << read << "\n--- English: " << (has_english ? found.str() : ""));
  CHECK_FALSE(has_english);
}

/// A shop of its own: a log, and the demo's files in reach.
struct Shop {
  TemporaryFolder folder;

  Ran said(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--language", "de"});
    const Ran ran = run_program(arguments, "/dev/null", source_file("data"));
    std::string line;
    for (const std::string& argument : arguments) line += argument + " ";
    INFO(line);
    check_german(ran.out + ran.err);
    return ran;
  }
  Ran kept(std::vector<std::string> arguments) const {
    arguments.insert(arguments.end(), {"--log", (folder / "log.db").string()});
    return said(std::move(arguments));
  }
};

bool holds(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("auf Deutsch: ein Auftrag von der Eroeffnung bis zum Auswuchtprotokoll") {
  const Shop shop;
  CHECK(shop.kept({"job", "open", "shaft.toml", "--rig", "rig.toml"}).exit_code == 0);
  CHECK(shop.kept({"job", "spin", "00-as-found.flac", "--label", "Anlieferung"}).exit_code == 0);
  CHECK(shop.kept({"job", "fit", "A 15 g @ 0 deg"}).exit_code == 0);
  CHECK(holds(shop.kept({"job", "order", "--customer", "Pumpen-Werk"}).out, "Kunde: Pumpen-Werk"));
  CHECK(shop.kept({"job", "show"}).exit_code == 0);
  CHECK(shop.kept({"job", "back", "2", "--reason", "Irrtum"}).exit_code == 0);
  CHECK(shop.kept({"job", "close", "--reason", "Schicht zu Ende"}).exit_code == 1);
  CHECK(holds(shop.kept({"log", "list"}).out, "Messläufe"));
  CHECK(holds(shop.kept({"log", "trend"}).out, "Ausb."));
  CHECK(holds(shop.kept({"log", "quality"}).out, "kein Messlauf"));
  CHECK(holds(shop.kept({"log", "check", "--recordings"}).out, "in Ordnung."));
  CHECK(holds(shop.kept({"log", "verify", "MC-0417/1"}).out, "Siegel"));
  CHECK(holds(shop.kept({"log", "backup", (shop.folder / "backup.db").string()}).out, "vollständig"));
  CHECK(
      holds(shop.kept({"sheet", "MC-0417/1", "--out", (shop.folder / "sheet.pdf").string()}).out, "Auswuchtprotokoll"));
  const std::string key = (shop.folder / "fenn.key").string();
  CHECK(holds(shop.said({"log", "key", key, "--name", "A. Fenn"}).out, "Schlüssel"));
  CHECK(holds(shop.kept({"log", "sign", "MC-0417/1", "--key", key}).out, "unterschrieben"));
}

TEST_CASE("auf Deutsch: Hochlauf, Stapel und Aufnahme") {
  const Shop shop;
  write_run_up(shop.folder);
  const std::string run_up = (shop.folder / "run-up.csv").string();
  const std::string rig = (shop.folder / "rig.toml").string();
  CHECK(holds(shop.said({"sweep", run_up, "--rig", rig}).out, "Umdrehungen"));
  CHECK(holds(shop.said({"sweep", run_up, "--rig", rig, "--order-spectrum"}).out, "Ordnung"));
  CHECK(holds(shop.said({"sweep", run_up, "--rig", rig, "--map"}).out, "Drehzahlen"));
  const Ran batch =
      shop.said({"batch", "track", "csv", "--rig", "rig.toml", "--out", (shop.folder / "all.jsonl").string()});
  CHECK(holds(batch.out, "Dateien"));
  const std::string copy = (shop.folder / "copy.csv").string();
  CHECK(holds(shop.said({"record", "play:" + run_up, copy}).out, "Kanal 1"));
}

TEST_CASE("auf Deutsch: was am haeufigsten nicht geht, und wie es zu beheben ist") {
  const Shop shop;
  struct Refused {
    std::vector<std::string> asked;
    const char* said;
  };
  const std::string shaft = write_file(shop.folder / "shaft.toml", "[shaft]\nid = \"PS-1\"\ngade = \"G16\"\n").string();
  const std::string broken = write_file(shop.folder / "broken.toml", "[shaft]\nid = PS-1\n").string();
  for (const Refused& each : std::initializer_list<Refused>{
           {{"limit", "--shaft", shaft}, "shaft.toml:3: Dieser Schlüssel bedeutet hier nichts ('gade')"},
           {{"limit", "--shaft", broken}, "broken.toml:2: Diese Zeile ist kein TOML"},
           {{"limit", "--grade", "G17", "--mass", "14 kg", "--speed", "3200 rpm"},
            "Das ist keine Auswucht-Gütestufe nach ISO 21940-11 ('G17')"},
           {{"limit", "--grade", "G16", "--mass", "14", "--speed", "3200 rpm"}, "Diese Größe ist nicht zu lesen ('14'"},
           {{"limit", "--shaft", "no-such.toml"}, "no-such.toml: Das gibt es nicht"},
           {{"inspect", "rig.toml"}, "Abhilfe:"},
           {{"track", "00-as-found.flac", "--rig", "rig.toml", "--orders", "0"},
            "Diese Ordnungen können nicht verfolgt werden"},
           {{"log", "list", "--log", "no-such.db"}, "no-such.db: Dieses Logbuch gibt es noch nicht"},
           {{"solve", "spins.toml", "--nonsense"}, "Diese Befehlszeile ist nicht zu verstehen"},
           {{"turn"}, "Diesen Befehl gibt es nicht ('turn')"},
       }) {
    CAPTURE(each.said);
    const Ran ran = shop.said(each.asked);
    CHECK(ran.exit_code >= 2);
    CAPTURE(ran.err);
    CHECK(holds(ran.err, each.said));
    CHECK(ran.err.starts_with("Fehler: "));
    CHECK(holds(ran.err, "\nAbhilfe: "));
  }
}
