#include "report/tap_check.hpp"

#include "counterspot/drawing/command_words.hpp"
#include "counterspot/units/said.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

Said next_of(const TapCheck& check) {
  if (check.within) return said({"Go on balancing.", "Weiter auswuchten."});
  const Said mend = said({"Mend what is wrong, and check again before any shaft: until then no shaft is within.",
                          "Beheben, was falsch ist, und vor jeder Welle nochmals prüfen: bis dahin ist keine Welle "
                          "innerhalb."});
  if (!check.changed) return mend;
  return said({"{} If a sensor, a cable or a pedestal was replaced for good, knocks stay so until a reference shaft "
               "shows the rig sound: 'rig check --shaft reference.toml', if that is outside 'rig recalibrate' first, "
               "and where it was never qualified 'rig qualify'. The first knocks after it are those to come back to.",
               "{} Wurde ein Aufnehmer, ein Kabel oder ein Lagerbock auf Dauer ersetzt, bleiben die Schläge so, bis "
               "eine Referenzwelle zeigt, dass die Bank in Ordnung ist: 'rig check --shaft reference.toml', liegt das "
               "außerhalb, zuerst 'rig recalibrate', und ohne frühere Eignungsprüfung 'rig qualify'. Die ersten "
               "Schläge danach sind die neuen Vergleichswerte."},
              mend);
}

}  // namespace

Json document_of_taps(const FoundOrAgain<TapCheck>& found) {
  if (const auto* again = std::get_if<Again>(&found))
    return {{"within", nullptr}, {"again", {{"why", again->why.en}, {"instead", again->instead.en}}}};
  const auto& check = std::get<TapCheck>(found);
  Json document = {{"within", check.within}, {"against", Json::array()}, {"found", Json::array()}};
  for (const Said& sentence : check.against) document["against"].push_back(sentence.en);
  for (const Said& sentence : check.found) document["found"].push_back(sentence.en);
  document["changed"] = check.changed;
  document["next"] = next_of(check).en;
  return document;
}

std::string taps_text(const FoundOrAgain<TapCheck>& found, const Rig& rig, const Words& words) {
  const std::string& language = words.language;
  if (const auto* again = std::get_if<Again>(&found))
    return said({"AGAIN  {}\nNEXT  {}\n", "NOCH EINMAL  {}\nWEITER  {}\n"}, again->why, again->instead).in(language);
  const auto& check = std::get<TapCheck>(found);
  std::string text =
      (check.within ? said({"RIG {} is as it was, by knocks\n", "BANK {} ist nach Schlägen wie zuvor\n"}, rig.name)
                    : said({"RIG {} IS NOT AS IT WAS\n", "BANK {} IST NICHT WIE ZUVOR\n"}, rig.name))
          .in(language);
  for (const Said& sentence : check.against) text += said({"  WRONG  {}\n", "  FALSCH  {}\n"}, sentence).in(language);
  for (const Said& sentence : check.found) text += "  " + sentence.in(language) + "\n";
  text +=
      said({"  A gain that changed alike in both, and the tach, are not seen by knocks.\n",
            "  Eine in beiden gleich veränderte Verstärkung und der Drehzahlgeber zeigen sich durch Schläge nicht.\n"})
          .in(language);
  return text + say(words.commands().next, next_of(check).in(language));
}

}  // namespace counterspot
