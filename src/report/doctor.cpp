#include "report/doctor.hpp"

#include "counterspot/drawing/command_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

/// How a part is called by people.
Said part_title(const std::string& part) {
  static const std::pair<const char*, SaidWords> titles[] = {
      {"shop", {"defaults", "Vorgaben"}},
      {"rig", {"rig", "Auswuchtbank"}},
      {"shafts", {"shafts", "Wellen"}},
      {"stock", {"stock", "Vorrat"}},
      {"source", {"source", "Quelle"}},
      {"disk", {"disk", "Platte"}},
      {"recordings", {"recordings", "Aufnahmen"}},
      {"log", {"log", "Logbuch"}},
      {"qualification", {"qualification", "Eignungsprüfung"}},
      {"daily_check", {"daily check", "tägliche Prüfung"}},
      {"clock", {"clock", "Uhr"}},
      {"lettering", {"lettering", "Schrift"}},
      {"libraries", {"libraries", "Bibliotheken"}},
  };
  for (const auto& [name, words] : titles)
    if (part == name) return said(words);
  return {part, part};
}

Said mark_of(Health health) {
  if (health == Health::well) return said({"ok", "gut"});
  return health == Health::noted ? said({"-", "-"}) : said({"MEND", "MANGEL"});
}

std::string found_text(const Examined& each, const Words& words) {
  return each.trouble ? refusal_text(*each.trouble, words) : each.found.in(words.language);
}
std::string mend_text(const Examined& each, const Words& words) {
  return each.trouble ? remedy_text(each.trouble->code(), each.trouble->remedy(), words) : each.mend.in(words.language);
}

}  // namespace

Json document_of(const std::vector<Examined>& all) {
  Json parts = Json::array();
  for (const Examined& each : all) {
    const std::string mend = mend_text(each, english());
    parts.push_back({{"part", each.part},
                     {"health", health_name(each.health)},
                     {"found", found_text(each, english())},
                     {"mend", text_or_null(mend)},
                     {"code", each.trouble ? Json(each.trouble->code()) : Json()}});
  }
  return {{"to_mend", has_to_mend(all)}, {"parts", parts}};
}

std::string doctor_text(const std::vector<Examined>& all, const Words& words) {
  constexpr int margin = 7, name = 18;
  std::string text;
  std::string next = said({"Nothing is to be mended.", "Es ist nichts zu beheben."}).in(words.language);
  for (const Examined& each : all) {
    text += fmt::format("{:<{}}{:<{}}{}\n", mark_of(each.health).in(words.language), margin,
                        part_title(each.part).in(words.language), name, found_text(each, words));
    if (each.health != Health::to_mend) continue;
    text += fmt::format("{:<{}}{}\n", "", margin + name, mend_text(each, words));
    next = said({"Mend what is marked, and 'counterspot doctor' again.",
                 "Beheben, was bezeichnet ist, und nochmals 'counterspot doctor'."})
               .in(words.language);
  }
  return text + say(words.commands().next, next);
}

}  // namespace counterspot
