#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/drawing/rig_words.hpp"
#include "counterspot/drawing/words.hpp"
#include "drawing/refusal_words_de.hpp"
#include "units/warning_table.hpp"

namespace counterspot {

namespace {

/// Of a warning, or of a refusal.
std::string_view german_meaning(std::string_view code) {
  const WarningRow* const warning = warning_row(code);
  return warning != nullptr ? warning->meaning_de : german_refusal(code).what;
}

std::string_view german_remedy(std::string_view code) {
  const WarningRow* const warning = warning_row(code);
  return warning != nullptr ? warning->remedy_de : german_refusal(code).remedy;
}

struct GermanRigItem {
  std::string_view place;
  std::string_view name;
  std::string_view look;
};

GermanRigItem german_rig_item(std::string_view place) {
  static constexpr GermanRigItem items[] = {
      {"sensors", "Aufnehmer",
       "Empfindlichkeit mal dem Anteil, den der Aufnehmer noch anzeigt, in die Datei der Auswuchtbank schreiben, oder "
       "ihn "
       "instand setzen"},
      {"plane separation", "Ebenentrennung", "Kabel, Stecker und Eingänge des Aufzeichners prüfen"},
      {"smallest achievable residual unbalance", "kleinste erreichbare Restunwucht",
       "losen Aufnehmer, loses Kabel oder lose Schraube am Lagerbock suchen"},
      {"unbalance reduction ratio", "Reduzierverhältnis der Unwucht", "Prüfmassen und ihre Winkel prüfen"},
      {"effect of speed", "Einfluss der Drehzahl",
       "ein Lagerbock ist nahe seiner Resonanz: suchen, welcher lose oder weicher geworden ist"},
      {"adapters", "Adapter", "Zentrierung, Schrauben und Rundlauf der Adapter prüfen"},
  };
  for (const GermanRigItem& item : items)
    if (item.place == place) return item;
  return {};
}

std::string_view german_rig_place(std::string_view place) {
  return german_rig_item(place).name;
}

std::string_view german_rig_fault(std::string_view place) {
  return german_rig_item(place).look;
}

}  // namespace

const Words& german() {
  static constexpr Words words{
      .language = "de",
      .decimal_point = ",",
      .plane = "EBENE {}",
      .seen_from = "von Ende {} gesehen",
      .mark = "Marke",
      .turns = "dreht",
      .with_rotation = "in Drehrichtung",
      .against_rotation = "gegen Drehrichtung",
      .on_shaft = "auf der Welle",
      .to_fit = "anbringen",
      .to_remove = "Metall abtragen",
      .removed = "Metall abgetragen",
      .no_weight = "kein Gewicht",
      .limit = "zulässig",
      .limit_of = "zulässig {}",
      .spin = "Messlauf",
      .last_spin = "letzter Messlauf",
      .as_found = "Urzustand",
      .larger = "{}-fach vergrößert",
      .where_95 = "gepunktet: enthält sie in 95 von 100 Fällen",
      .straightness = "GERADHEIT",
      .along_tube = "entlang des Rohrs",
      .indicator_total = "Gesamtausschlag",
      .high_side = "hohe Seite",
      .press_here = "hier drücken",
      .speed = "Drehzahl",
      .amplitude = "Amplitude",
      .peak = "Scheitelwert",
      .phase_lag = "Phasennacheilung",
      .resonance = "Resonanz",
      .order = "Ordnung",
      .sensor = "Aufnehmer {}",
      .path_of_vector = "Weg des Vektors",
      .time = "Zeit",
      .tach_edges = "Dreiecke: Flanken der Marke",
      .residual_over_limit = "Restunwucht durch zulässige",
      .job_after_job = "Auftrag um Auftrag",
      .within = "innerhalb",
      .outside = "außerhalb",
      .unsure = "nicht entscheidbar",
      .centre = "Mitte",
      .control_limits = "Eingriffsgrenzen",
      .pedestal = "Lagerbock {}",
      .pedestals_stiffness = "dynamische Steifigkeit gegen sonst",
      .spectrum = "Ordnungen",
      .frequency = "Frequenz",
      .sheet_title = "AUSWUCHTPROTOKOLL",
      .shaft = "Welle",
      .rig = "Auswuchtbank",
      .job = "Auftrag",
      .opened = "begonnen",
      .closed = "abgeschlossen",
      .not_closed = "nicht abgeschlossen: kein endgültiger Nachweis",
      .balancing_speed = "Auswuchtdrehzahl",
      .service_speed = "Betriebsdrehzahl",
      .mass = "Masse",
      .tube = "Rohr",
      .grade = "Auswucht-Gütestufe",
      .place = "Ort",
      .support = "Lager {}",
      .mode = "Eigenform {}",
      .as_found_column = "Urzustand",
      .residual = "Restunwucht",
      .verdict = "Bewertung",
      .verdict_by =
          "Regel: innerhalb nur, wenn Restunwucht plus ± nirgends die Grenze übersteigt; außerhalb, wenn "
          "Restunwucht minus ± sie irgendwo übersteigt; sonst nicht entscheidbar",
      .limits_by_grade = "Grenzen: {} nach ISO 21940-11",
      .limits_set_by = "Grenzen: in der Wellendatei vorgegeben, festgelegt von {}",
      .no_final = "keine endgültige Restunwucht",
      .no_uncertainty = "Unsicherheit unbekannt: die Bewertung beruht allein auf dem Wert",
      .pieces = "ANGEBRACHT, im Urzustand nicht vorhanden",
      .no_pieces = "nichts",
      .piece_mass = "Masse",
      .radius = "Radius",
      .clock = "Uhr",
      .tape = "Bandmaß ab Marke",
      .shaft_angle = "Wellenwinkel",
      .spins = "Messläufe",
      .of_which_taken_back = "{} Einträge zurückgenommen",
      .said_after_close = "nach dem Abschluss angegeben, am {} (Eintrag {}): {}",
      .notes = "HINWEISE",
      .of_warning = german_meaning,
      .of_remedy = german_remedy,
      .remarks = "BEMERKUNGEN",
      .recordings = "AUFNAHMEN (SHA-256)",
      .typed_in = "eingetippt",
      .balanced_by = "ausgewuchtet von",
      .inspected_by = "geprüft von",
      .date_and_signature = "Name, Datum, Unterschrift",
      .cautions =
          "Grenzen für Straße, Hebezeuge und Personenbeförderung legen der verantwortliche Ingenieur, die örtlichen "
          "Regeln und der Hersteller fest; sie geben frei. Vor dem Messlauf prüfen, dass jedes Gewicht fest sitzt.",
      .signed_by = "elektronisch unterschrieben von {} am {}, Schlüssel {}",
      .seal = "Siegel von Eintrag {}: {}",
      .link = "Glied {} des Logbuchs: {}",
      .program = "geschrieben von {}",
      .page_of = "Seite {} von {}",
      .at = "bei",
      .customer = "Kunde",
      .order_number = "Bestellung",
      .part = "Teil",
      .serial = "Seriennummer",
      .shop = "Werkstatt",
      .planes_at = "Ebenen bei",
      .supports_at = "Lager bei",
      .rotation = "Drehrichtung",
      .clockwise = "im Uhrzeigersinn, von Ende {} gesehen",
      .counter_clockwise = "gegen den Uhrzeigersinn, von Ende {} gesehen",
      .qualified = "Auswuchtbank geeignet",
      .not_qualified = "keine Eignungsprüfung im Logbuch",
      .umar = "{}, kleinste erreichbare Restunwucht ",
      .permissible = "zulässig insgesamt",
      .coefficients = "Koeffizienten",
      .own_coefficients = "aus den eigenen Messläufen dieses Auftrags",
      .fixed_by = "Gewichte befestigt",
      .set_by = "Grenzen festgelegt von",
      .off_again = "In früheren Messläufen getragen und wieder abgenommen: {}",
      .rpm = " min⁻¹",
      .degree = "°",
      .used_prior = "mit Koeffizienten früherer Wellen",
      .corrected_from_rig = "korrigiert nach dem, was die Auswuchtbank gelehrt hat (frühere Wellen: {})",
      .of_them_brought_in = "{}, davon aus einem anderen Logbuch: ",
      .in_doubt = "fraglich: {}",
      .ninety_five =
          "± gilt für 95 % der Fälle (k = 2); darin sind Rauschen und Streuung der Messläufe, das Setzen der Gewichte "
          "sowie "
          "Adapter, Aufspannung und Auswuchtbank, soweit bekannt",
      .small_mass_readings = "Anzeigen der kleinen Prüfmasse durch ihr Mittel",
      .reduction_ratio = "Unwucht-Reduzierverhältnis",
      .test_mass_at = "Prüfmasse bei, Grad",
      .allowed = "erlaubt",
      .claimed = "zugesagt",
      .report_title = "EIGNUNGSPRÜFUNG",
      .passed = "bestanden",
      .failed = "nicht bestanden",
      .passed_of = "{} von {} bestanden",
      .not_judged = "nicht bewertet",
      .judged_item = "Punkt",
      .measured = "gemessen",
      .reference_shaft = "Prüfwelle",
      .begun_and_judged = "begonnen, bewertet",
      .qualify_again_by = "erneut zu prüfen bis",
      .now_failed = "jetzt: sie wurde nicht bestanden",
      .spread = "Streuung {}",
      .judged_by = "bewertet nach",
      .our_rules = "den Regeln des Programms, in seinem Handbuch für den Ingenieur",
      .spins_recorded =
          "{} Messläufe, {} davon aufgenommen; jede Anzeige und die SHA-256 jeder Aufnahme sind im Logbuch",
      .taken_back_for = "ein Messlauf wurde zurückgenommen: {}",
      .of_rig_place = german_rig_place,
      .of_rig_fault = german_rig_fault,
      .first_qualification = "die erste Eignungsprüfung dieser Auswuchtbank: sie wird zum Vergleich",
      .does_not_repeat = "nicht bewertet, weil die Anzeigen sich nicht wiederholen",
      .pedestal_not_sensor = "nicht bewertet, weil es am Lagerbock liegt und nicht am Aufnehmer",
      .qualified_by = "geprüft durch",
      .to_fit_bare = "Als Nächstes anzubringen, Testgewichte abgenommen: {}",
      .to_fit_on_top = "Oder, Testgewichte belassen: {}",
      .to_fit_next = "Als Nächstes anzubringen: {}",
      .instruction = german_instructions,
      .rig_work = german_rig_words,
      .picture = german_picture_words,
      .commands = german_commands,
  };
  return words;
}

}  // namespace counterspot
