#include <fmt/format.h>
#include <fmt/ranges.h>

#include <filesystem>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/shop.hpp"
#include "counterspot/guide/guide.hpp"
#include "report/step_words.hpp"

namespace counterspot::commands {

namespace {

struct StandingWords {
  const char* no_rig;
  const char* rig_here;
  const char* no_shafts;
  const char* no_job;  ///< rig, folder of shafts
  const char* jobs;    ///< how many, names
  const char* next;
  const char* commands;
};
constexpr StandingWords in_english = {
    "No rig is stated yet.",
    "There is a rig.toml here; the shop's defaults do not name it yet.",
    "No folder of shaft files is stated yet.",
    "No job is open. Rig: {}; shafts: {}.",
    "Open jobs: {}, the newest {}",
    "NEXT  ",
    "'counterspot --help' has all commands.",
};
constexpr StandingWords in_german = {
    "Noch ist keine Auswuchtbank angegeben.",
    "Hier liegt eine rig.toml; die Vorgaben der Werkstatt nennen sie noch nicht.",
    "Noch ist kein Ordner mit Dateien von Wellen angegeben.",
    "Kein Auftrag ist offen. Auswuchtbank: {}; Wellen: {}.",
    "Offene Aufträge: {}, der neueste {}",
    "WEITER  ",
    "'counterspot --help' nennt alle Befehle.",
};

std::vector<JobOverview> open_jobs(const std::string& place) {
  try {
    return log_to_read(place).list({"", "", "open", {}, {}});
  } catch (const Error& error) {
    if (error.code() == "no_log") return {};
    throw;
  }
}

std::string open_text(const std::vector<JobOverview>& open, const std::string& place, const StandingWords& texts,
                      const Words& words) {
  const Log log = log_to_read(place);
  const KnownJob known = known_job(log, log.job(open.front().name));
  std::string text = fmt::format(fmt::runtime(texts.jobs), open.size(), open.front().name) + "\n";
  text += step_words(known.next(), known, words).words + "\n";
  return text +
         fmt::format("{}counterspot job next{}\n", texts.next, open.size() == 1 ? "" : " --job " + open.front().name);
}

}  // namespace

std::string standing_text() {
  const std::string language = shop_value("language");
  const Words& words = language.empty() ? words_of_locale() : words_in(language);
  const StandingWords& texts = std::string_view(words.language) == "de" ? in_german : in_english;
  const std::string place = shop_value("log");
  const auto open = open_jobs(place);
  if (!open.empty()) return open_text(open, place, texts, words) + cautions(words);
  const auto said = [&](const std::string& how, const std::string& next) {
    return fmt::format("{}\n{}{}\n{}\n", how, texts.next, next, texts.commands);
  };
  const std::string rig = shop_value("rig");
  const std::string shafts = shop_value("shafts");
  std::error_code unseen;
  if (rig.empty() && std::filesystem::exists("rig.toml", unseen))
    return said(texts.rig_here, "counterspot shop rig rig.toml");
  if (rig.empty()) return said(texts.no_rig, "counterspot rig new");
  if (shafts.empty()) return said(texts.no_shafts, "counterspot shop shafts .");
  return said(fmt::format(fmt::runtime(texts.no_job), rig, shafts), "counterspot job open PS-1042");
}

}  // namespace counterspot::commands
