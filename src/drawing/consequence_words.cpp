#include "drawing/consequence_words.hpp"

#include <algorithm>
#include <iterator>

namespace counterspot {

namespace {

struct Consequence {
  WarningCode code;
  std::string_view english;
  std::string_view german;
};

constexpr Consequence consequences[] = {
    {WarningCode::clipped, "the reading may be too small", "die Anzeige kann zu klein sein"},
    {WarningCode::flattened, "the reading is too small", "die Anzeige ist zu klein"},
    {WarningCode::quiet_channel, "the reading is not the shaft's", "die Anzeige stammt nicht von der Welle"},
    {WarningCode::dead_channel, "there is no reading", "es gibt keine Anzeige"},
    {WarningCode::overrun, "the reading may be wrong", "die Anzeige kann falsch sein"},
    {WarningCode::lost_pulses, "the angle is less sure", "der Winkel ist weniger sicher"},
    {WarningCode::double_pulses, "the angle is less sure", "der Winkel ist weniger sicher"},
    {WarningCode::tach_jitter, "the angle is less sure", "der Winkel ist weniger sicher"},
    {WarningCode::weak_tach, "the angle may be lost next time", "der Winkel kann beim nächsten Mal fehlen"},
    {WarningCode::tach_lost, "the angle may be wrong", "der Winkel kann falsch sein"},
    {WarningCode::tach_changed, "the angle may be wrong", "der Winkel kann falsch sein"},
    {WarningCode::direction_unknown, "if the shaft turned the other way, every angle is on the wrong side",
     "drehte die Welle andersherum, liegt jeder Winkel auf der falschen Seite"},
    {WarningCode::speed_doubted, "speed and reading may be wrong", "Drehzahl und Anzeige können falsch sein"},
    {WarningCode::speed_drift, "the reading is a mean over several speeds",
     "die Anzeige ist ein Mittel über mehrere Drehzahlen"},
    {WarningCode::few_revolutions, "the reading is less sure", "die Anzeige ist weniger sicher"},
    {WarningCode::order_2_dominant, "no weight will quiet this shaft", "kein Gewicht beruhigt diese Welle"},
    {WarningCode::knocks, "the reading is less sure", "die Anzeige ist weniger sicher"},
    {WarningCode::beating, "the reading is less sure", "die Anzeige ist weniger sicher"},
    {WarningCode::loose_cable, "the reading may be wrong", "die Anzeige kann falsch sein"},
    {WarningCode::near_resonance, "the answer holds for this speed alone", "das Ergebnis gilt nur für diese Drehzahl"},
    {WarningCode::coarse_steps, "the reading is no surer than the converter's steps",
     "die Anzeige ist nicht sicherer als die Stufen des Wandlers"},
    {WarningCode::swapped_sensors, "weights would go to the wrong ends", "Gewichte kämen an die falschen Enden"},
    {WarningCode::inverted_polarity, "weights would go to the wrong side", "Gewichte kämen auf die falsche Seite"},
    {WarningCode::wrong_sensitivity, "weights would have the wrong mass", "Gewichte hätten die falsche Masse"},
    {WarningCode::sensor_changed, "this spin cannot be compared with the others",
     "dieser Messlauf ist mit den anderen nicht vergleichbar"},
    {WarningCode::reading_moved, "what is shown to be fitted may be wrong", "was anzubringen ist, kann falsch sein"},
    {WarningCode::unlike_asked, "all that follows rests on what was typed",
     "alles Weitere beruht auf dem, was eingetippt wurde"},
    {WarningCode::no_uncertainty, "how sure the answer is cannot be said",
     "wie sicher das Ergebnis ist, lässt sich nicht sagen"},
    {WarningCode::ill_conditioned, "the answer is unsure", "das Ergebnis ist unsicher"},
    {WarningCode::weak_trial, "the answer is less sure", "das Ergebnis ist weniger sicher"},
    {WarningCode::spins_disagree, "the answer may be wrong", "das Ergebnis kann falsch sein"},
    {WarningCode::out_of_band, "the answer may be wrong", "das Ergebnis kann falsch sein"},
    {WarningCode::scatter_assumed, "the ± may be too small or too large", "das ± kann zu klein oder zu groß sein"},
    {WarningCode::qualification_due, "that the rig still does what it claims is not shown",
     "dass die Auswuchtbank noch leistet, was sie zusagt, ist nicht belegt"},
    {WarningCode::qualification_failed, "the rig does not do what it claims",
     "die Auswuchtbank leistet nicht, was sie zusagt"},
    {WarningCode::flexible_shaft, "at other speeds the shaft may be outside",
     "bei anderen Drehzahlen kann die Welle außerhalb liegen"},
    {WarningCode::mode_unseen, "at service speed the shaft may be outside",
     "bei Betriebsdrehzahl kann die Welle außerhalb liegen"},
    {WarningCode::limit_missing, "nothing can be said of a plane", "über eine Ebene lässt sich nichts sagen"},
};

}  // namespace

std::string_view consequence_of(WarningCode code, const Words& words) {
  const auto* const found = std::ranges::find(consequences, code, &Consequence::code);
  if (found == std::end(consequences)) return {};
  return &words == &german() ? found->german : found->english;
}

}  // namespace counterspot
