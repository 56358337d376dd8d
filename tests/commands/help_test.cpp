// --help and the manual speak the languages that the answers speak: every command, every option, every key of a file
// and every remark has its sentence in both.
#include <catch2/catch.hpp>
#include <cctype>
#include <cstdlib>
#include <set>
#include <sstream>

#include "counterspot/files/new_files.hpp"
#include "drawing/help_words_de.hpp"
#include "drawing/manual_words_de.hpp"
#include "report/file_reference.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

/// What a page of help says, and of what.
struct Help {
  std::vector<std::string> sentences;
  std::vector<std::string> steps;        ///< of the command
  std::vector<std::string> undescribed;  ///< options
};

constexpr std::size_t descriptions_begin = 30;  // the column, of CLI11

std::vector<std::string> lines_in(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

bool is_description_alone(const std::string& line) {
  return line.size() > descriptions_begin && line.find_first_not_of(' ') == descriptions_begin;
}

/// A name with its description beside it, or below it where the name is long.
void add_entry(const std::vector<std::string>& lines, std::size_t i, bool is_step, Help& help) {
  const std::string& line = lines[i];
  if (is_description_alone(line)) return help.sentences.push_back(line.substr(descriptions_begin));
  if (is_step) help.steps.push_back(line.substr(2, line.find(' ', 2) - 2));
  if (i + 1 < lines.size() && is_description_alone(lines[i + 1])) return;
  if (line.size() <= descriptions_begin) return help.undescribed.push_back(line);
  help.sentences.push_back(line.substr(descriptions_begin));
}

bool is_head(const std::string& line) {
  return line == "Positionals:" || line == "Options:" || line == "Subcommands:";
}

/// In English.
Help help_of(std::vector<std::string> command) {
  command.insert(command.end(), {"--help", "--language", "en"});
  const auto lines = lines_in(run_program(command, "/dev/null", source_file("data")).out);
  Help help;
  help.sentences.push_back(lines.at(0));
  std::string head;
  for (std::size_t i = 2; i < lines.size(); ++i) {
    const std::string& line = lines[i];
    if (is_head(line)) head = line;
    if (line.starts_with("CAUTION")) i += 2;  // has its words in a table of its own
    if (line.starts_with(" ") && head != "") add_entry(lines, i, head == "Subcommands:", help);
    if (line.empty() || line.starts_with(" ") || line.starts_with("CAUTION") || is_head(line)) continue;
    head = "";
    help.sentences.push_back(line);
  }
  return help;
}

/// Of the program, of its commands and of their steps.
void gather(const std::vector<std::string>& command, std::set<std::string>& said) {
  const Help help = help_of(command);
  CAPTURE(command);
  CHECK(help.undescribed == std::vector<std::string>());
  said.insert(help.sentences.begin(), help.sentences.end());
  for (const std::string& step : help.steps) {
    std::vector<std::string> longer = command;
    longer.push_back(step);
    gather(longer, said);
  }
}

bool holds(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

std::string manual_of(const std::vector<std::string>& what, const std::string& language) {
  std::vector<std::string> typed = {"manual"};
  typed.insert(typed.end(), what.begin(), what.end());
  typed.insert(typed.end(), {"--language", language});
  const Ran ran = run_program(typed, "/dev/null", source_file("data"));
  CHECK(ran.exit_code == 0);
  return ran.out;
}

/// Every phrase that the manuals of the files ask for.
std::set<std::string> phrases_of_files() {
  std::set<std::string> asked;
  for (const FileKind kind : file_kinds) {
    reference_text(kind, [&](std::string_view phrase) {
      asked.emplace(phrase);
      return phrase;
    });
  }
  return asked;
}

/// "10 s", and what only fills in: the same in every language.
bool has_no_words(std::string_view phrase) {
  const bool of_value = std::isdigit(static_cast<unsigned char>(phrase.front())) != 0;
  return phrase == "{} ({})" || (of_value && phrase.find('(') == std::string_view::npos);
}

/// Heads, keys with their examples, and the shortest file but for its remarks.
bool is_typed(const std::string& line) {
  return line.starts_with("#") || line.starts_with("- `") || (line.starts_with("    ") && !line.starts_with("    #"));
}

struct FileManual {
  std::vector<std::string> typed;
  std::string told;
  explicit FileManual(const std::string& text) {
    for (const std::string& line : lines_in(text)) {
      if (is_typed(line)) typed.push_back(line);
      if (!is_typed(line)) told += line + "\n";
    }
  }
};

}  // namespace

TEST_CASE("every sentence of every --help has its row in German, and no row is left over") {
  std::set<std::string> said;
  gather({}, said);
  CHECK(said.size() > 250);
  std::set<std::string> rows;
  for (const HelpWords& row : german_help()) {
    CAPTURE(row.english);
    CHECK(rows.insert(std::string(row.english)).second);
    CHECK_FALSE(row.german.empty());
    CHECK(row.german != row.english);
    CHECK(said.contains(std::string(row.english)));
  }
  for (const auto& questions : {shaft_questions(), stock_questions()}) {  // have their German with them
    for (const FileQuestion& question : questions) {
      const std::string help = question.help.empty() ? "" : " (" + question.help.en + ")";
      CHECK(said.contains(question.words.en + help));
      CHECK(question.words.de != question.words.en);
      rows.insert(question.words.en + help);
    }
  }
  for (const std::string& sentence : said) {
    INFO("to be written into src/drawing/help_words_de.cpp: " << sentence);
    CHECK(rows.contains(sentence));
  }
}

TEST_CASE("every phrase of the manuals of the files has its row in German, and no row is left over") {
  const std::set<std::string> asked = phrases_of_files();
  CHECK(asked.size() > 250);
  for (const std::string& phrase : asked) {
    INFO("to be written into src/drawing/manual_words_de.cpp: " << phrase);
    CHECK((has_no_words(phrase) || said_in_german_manual(phrase) != phrase));
  }
  const std::string pages = manual_of({}, "de") + manual_of({"job"}, "de") + manual_of({"solve"}, "de");
  std::set<std::string> rows;
  for (const HelpWords& row : german_manual()) {
    CAPTURE(row.english);
    CHECK(rows.insert(std::string(row.english)).second);
    CHECK(german_help(row.english).empty());  // which is asked too
    CHECK((row.german != row.english && !has_no_words(row.english)));
    CHECK((asked.contains(std::string(row.english)) || holds(pages, std::string(row.german))));
  }
}

TEST_CASE("auf Deutsch: das Handbuch jeder Datei, mit Schlüsseln und Beispielen, wie man sie eintippt") {
  for (const FileKind kind : file_kinds) {
    const std::string page(about(kind).page);
    CAPTURE(page);
    const std::string text = manual_of({page}, "en");
    CHECK(text == reference_text(kind));
    const FileManual english(text);
    const FileManual german(manual_of({page}, "de"));
    CHECK(german.typed == english.typed);
    CHECK(german.typed.size() > 10);
    CHECK(holds(german.told, "Jede Größe steht mit ihrer Einheit;"));
    for (const char* word : {"The ", " the ", "needed", "left out", "a text", "Every", " above ", " of "}) {
      CAPTURE(word);
      CHECK_FALSE(holds(german.told, word));
    }
    CHECK(manual_of({page, "--schema"}, "de") == manual_of({page, "--schema"}, "en"));
  }
  const std::string rig = manual_of({"rig-file"}, "de");
  CHECK(holds(rig, "`rotation = \"counter-clockwise\"`  \n  Wohin sich die Welle dreht, vom Blickende aus gesehen:"));
  CHECK(holds(rig, "(ein Text; nötig)"));
}

TEST_CASE("auf Deutsch: das Handbuch jedes Befehls, nach --language, nach der Umgebung und nach der Werkstatt") {
  std::set<std::string> heads;
  for (const HelpWords& row : german_manual()) heads.insert(".SH " + std::string(row.german));
  std::vector<std::vector<std::string>> pages = {{}};
  for (const std::string& command : help_of({}).steps) pages.push_back({command});
  CHECK(pages.size() > 15);
  for (const auto& page : pages) {
    CAPTURE(page);
    for (const std::string& line : lines_in(manual_of(page, "de"))) {
      CAPTURE(line);
      if (line.starts_with(".SH ")) CHECK(heads.contains(line));
    }
  }
  const std::string german = manual_of({"solve"}, "de");
  CHECK(holds(german, "Die Datei der Messläufe: Auswuchtbank, Welle, und jeder Messlauf"));
  const TemporaryFolder shop;
  const auto asked = [&](std::vector<std::string> what) {
    return run_program(std::move(what), "/dev/null", shop.path()).out;
  };
  CHECK(asked({"--language", "de", "manual", "solve"}) == german);
  setenv("LC_ALL", "de_AT.UTF-8", 1);
  CHECK(asked({"manual", "solve"}) == german);
  CHECK(asked({"manual", "solve", "--language", "en"}) == manual_of({"solve"}, "en"));
  CHECK(asked({"manual", "--folder", "."}).empty());
  CHECK(holds(read_file(shop / "counterspot-solve.1"), ".SH OPTIONS"));  // as the package has it
  CHECK(holds(read_file(shop / "counterspot-rig-file.5"), ".SH KEYS"));
  unsetenv("LC_ALL");
  write_file(shop / "shop.toml", "language = \"de\"\n");
  CHECK(asked({"manual", "solve"}) == german);
  write_file(shop / "shop.toml", "language = [\n");
  CHECK(asked({"manual", "solve"}) == manual_of({"solve"}, "en"));
}

TEST_CASE("auf Deutsch: die Hilfe, nach --language, nach der Umgebung und nach den Vorgaben der Werkstatt") {
  const auto asked = [](std::vector<std::string> arguments, const std::filesystem::path& folder) {
    return run_program(std::move(arguments), "/dev/null", folder).out;
  };
  const TemporaryFolder shop;
  const std::filesystem::path data = source_file("data");
  const std::string german = asked({"solve", "--help", "--language", "de"}, data);
  CHECK(holds(german, "Aufruf: counterspot solve [OPTIONEN] spins"));
  CHECK(holds(german, "Die Datei der Messläufe: Auswuchtbank, Welle, und jeder Messlauf mit dem, was angebracht war"));
  CHECK(holds(german, "Rückgabewert 0: innerhalb der Grenze; 1: nicht, oder nicht entscheidbar."));
  for (const char* english : {"Usage", "Options:", "Positionals", "REQUIRED", "Needs", "Example", "Exit code"}) {
    CAPTURE(english);
    CHECK_FALSE(holds(german, english));
  }
  CHECK(asked({"--language", "de", "solve", "--help"}, data) == german);
  CHECK(asked({"--language=de", "solve", "--help"}, data) == german);
  CHECK(holds(asked({"job", "--help", "--language", "de"}, data), "VORSICHT  Schutzhaube geschlossen"));
  CHECK_FALSE(holds(asked({"job", "--help", "--language", "de"}, data), "CAUTION"));
  CHECK(holds(asked({"completion", "--help", "--language", "de"}, data), "Die Shell"));
  setenv("LC_ALL", "de_AT.UTF-8", 1);
  CHECK(asked({"solve", "-h"}, data) == german);
  CHECK(holds(asked({"solve", "--help", "--language", "en"}, data), "Usage: counterspot solve [OPTIONS] spins"));
  unsetenv("LC_ALL");
  CHECK(holds(asked({"--help"}, shop.path()), "Usage: "));
  write_file(shop / "shop.toml", "language = \"de\"\n");
  CHECK(holds(asked({"--help"}, shop.path()), "Aufruf: "));
}

TEST_CASE("auf Deutsch: was die Ergänzung der zsh von Befehlen und Optionen sagt, und getippt wird das Gleiche") {
  const auto script = [](const std::string& shell, const std::string& language) {
    return run_program({"completion", shell, "--language", language}, "/dev/null", source_file("data")).out;
  };
  const std::string zsh = script("zsh", "de");
  CHECK(holds(zsh, "'limit:Zulässige Restunwucht, insgesamt und für jede Ebene'"));
  CHECK(holds(zsh, "'--grade:Auswucht-Gütestufe, wie G16'"));
  CHECK_FALSE(holds(zsh, "Permissible"));
  CHECK(holds(script("zsh", "en"), "'--grade:Balance quality grade, such as G16'"));
  CHECK(script("bash", "de") == script("bash", "en"));
}

TEST_CASE("the language may be said before the command, and the program alone takes it too") {
  const std::filesystem::path data = source_file("data");
  const Ran before = run_program({"--language", "de", "limit", "--shaft", "shaft.toml"}, "/dev/null", data);
  CHECK(before.exit_code == 0);
  CHECK(holds(before.out, "ZULÄSSIGE RESTUNWUCHT"));
  const TemporaryFolder nothing;
  const Ran alone = run_program({"--language", "de"}, "/dev/null", nothing.path());
  CHECK(alone.exit_code == 0);
  CHECK(holds(alone.out, "WEITER"));
}
