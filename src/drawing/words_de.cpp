#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/drawing/rig_words.hpp"
#include "counterspot/drawing/words.hpp"
#include "drawing/refusal_words_de.hpp"

namespace counterspot {

namespace {

struct GermanWarning {
  std::string_view code;
  std::string_view meaning;
  std::string_view remedy;
};

/// Nothing in it if the code is unknown.
GermanWarning german_warning(std::string_view code) {
  static constexpr GermanWarning warnings[] = {
      {"clipped", "Signal am Anschlag des Wandlers", "Verstärkung senken und nochmals messen"},
      {"dead_channel", "Kanal ohne Signal", "Kabel und Kanalnummer prüfen und nochmals messen"},
      {"flattened", "Signal oben und unten abgeschnitten", "Verstärkung vor dem Wandler senken und nochmals messen"},
      {"quiet_channel", "Kanal fast ohne Signal", "Kabel und Speisung des Aufnehmers prüfen und nochmals messen"},
      {"uneven_time", "Zeitspalte schwankt, im zulässigen Rahmen", "wenn möglich als WAV aufnehmen"},
      {"short_data", "etwas weniger Daten als angekündigt", "Aufnahme beenden, bevor die Datei abgeholt wird"},
      {"overrun", "Abtastwerte gingen verloren, die Aufnahme hat Lücken",
       "den Rechner von anderer Arbeit befreien und nochmals messen"},
      {"lost_pulses", "fehlende Drehzahlimpulse überbrückt",
       "Marke reinigen und Ausrichtung des Drehzahlgebers prüfen"},
      {"double_pulses", "überzählige Drehzahlimpulse verworfen", "Marke und Ausrichtung des Drehzahlgebers prüfen"},
      {"tach_jitter", "Drehzahlimpulse zeitlich unruhig", "Marke reinigen und Ausrichtung des Drehzahlgebers prüfen"},
      {"weak_tach", "Drehzahlimpuls kaum über dem Rauschen", "Drehzahlgeber näher an die Marke bringen"},
      {"tach_lost", "Drehzahlimpulse blieben aus",
       "Kabel, Speisung und Ausrichtung des Drehzahlgebers prüfen und nochmals messen"},
      {"tach_changed", "Drehzahlimpulse änderten Höhe oder Lage",
       "Drehzahlgeber befestigen, seine Speisung prüfen und nochmals messen"},
      {"direction_unknown", "Drehrichtung am Drehgeber nicht erkennbar",
       "Kabel, Impulszahl und Abtastrate des Drehgebers prüfen"},
      {"speed_doubted", "Drehzahl des Gebers zweifelhaft",
       "Marken auf der Welle zählen, pulses_per_revolution und die Zeiteinheit prüfen"},
      {"speed_drift", "Drehzahl änderte sich während des Messlaufs", "Drehzahl halten oder länger aufnehmen"},
      {"few_revolutions", "kurzer Messlauf", "länger aufnehmen"},
      {"order_2_dominant", "zweite Ordnung allein zu groß, sie kommt von den Gelenken und ihrer Stellung",
       "Beugewinkel und Stellung der Gelenke prüfen"},
      {"order_2_unjudged", "zweite Ordnung nicht beurteilt: die Empfindlichkeit eines Aufnehmers ist nicht bekannt",
       "nichts, oder die Empfindlichkeiten ermitteln: 'rig new --only sensitivity'"},
      {"steady_part", "nur der gleichmäßige Teil der Aufnahme wurde verwendet",
       "erst aufnehmen, wenn die Drehzahl gleich bleibt"},
      {"interference", "fremde Schwingung nahe der Ordnung, mit ausgeglichen", "nichts, oder suchen, was brummt"},
      {"knocks", "Stöße während des Messlaufs, diese Umdrehungen zählen weniger", "suchen, was anschlägt"},
      {"beating", "Schwebung mit einer Nachbarmaschine", "länger aufnehmen oder bei anderer Drehzahl messen"},
      {"loose_cable", "Signal blieb aus oder sprang", "Kabel und Stecker befestigen und nochmals messen"},
      {"near_resonance", "nahe einer Resonanz", "bei anderer Drehzahl messen"},
      {"moving_level", "Ruhepegel wandert, mit ausgeglichen", "Aufnehmer vor der Aufnahme zur Ruhe kommen lassen"},
      {"other_order", "nicht ganzzahlige Ordnung: Getriebe oder Riemen", "nichts, oder Getriebe oder Riemen suchen"},
      {"orders_lowered", "Spektrum endet unter der gewünschten Ordnung: Abtastrate zu niedrig",
       "mit höherer Abtastrate aufnehmen, wenn höhere Ordnungen zählen"},
      {"coarse_steps", "Wandlerstufe groß gegen die Anzeige der zulässigen Restunwucht",
       "Verstärkung erhöhen oder einen Wandler mit mehr Bit nehmen"},
      {"swapped_sensors", "Aufnehmer vermutlich vertauscht",
       "Kabel richtig anschließen und jenen Messlauf wiederholen"},
      {"inverted_polarity", "Aufnehmer gegenüber einem früheren Messlauf umgepolt",
       "Aufnehmer umdrehen und jenen Messlauf wiederholen"},
      {"wrong_sensitivity", "Empfindlichkeit um etwa das Zehnfache anders als zuvor",
       "Messbereich, Empfindlichkeit und Vollausschlag wie zuvor einstellen und jenen Messlauf wiederholen"},
      {"sensor_changed", "Aufnehmer verhält sich anders als in den anderen Messläufen",
       "Befestigung, Kabel und Verstärkung des Aufnehmers prüfen und jenen Messlauf wiederholen"},
      {"reading_moved", "Anzeige änderte sich ohne angegebene Gewichte",
       "angeben, was auf der Welle ist, oder nochmals messen"},
      {"unlike_asked", "angegebenes Gewicht weicht von der Anweisung ab", "prüfen, was eingetippt wurde"},
      {"no_uncertainty", "Messwerte ohne Unsicherheit eingetippt", "jeden Messwert mit seinem ± eintippen"},
      {"speeds_differ", "Messläufe auf eine Drehzahl umgerechnet", "bei einer einzigen Drehzahl messen"},
      {"ill_conditioned", "Ebenen oder Testgewichte kaum unterscheidbar",
       "mit den Gewichten an anderen Stellen nochmals messen"},
      {"weak_trial", "Testgewicht änderte die Anzeige wenig", "ein schwereres Testgewicht anbringen"},
      {"plane_left_out", "eine Ebene blieb außer Betracht, andere ersetzen sie",
       "nichts, oder bei einer Drehzahl messen, bei der sie zählt"},
      {"spins_disagree", "Messläufe widersprechen einander über ihre Unsicherheit hinaus",
       "angegebene Gewichte und Kabel der Aufnehmer prüfen und nochmals messen"},
      {"out_of_band", "Welle verhält sich nicht wie ihre Baureihe",
       "Aufnehmer, angegebene Gewichte und Wellendatei prüfen"},
      {"scatter_assumed", "Wiederholstreuung der Auswuchtbank angenommen",
       "Eignungsprüfung durchführen oder unverändert nochmals messen"},
      {"flexible_shaft", "nahe der Biegeschwingung", "drei Ebenen und Messläufe bei mehreren Drehzahlen nehmen"},
      {"mode_unseen", "Eigenform bei Betriebsdrehzahl nicht erkennbar", "auch näher an der Betriebsdrehzahl messen"},
      {"qualification_due", "Eignungsprüfung der Auswuchtbank fällig oder nicht bestanden",
       "Eignungsprüfung durchführen"},
      {"qualification_failed", "Auswuchtbank hat ihre letzte Eignungsprüfung oder tägliche Prüfung nicht bestanden",
       "Auswuchtbank instand setzen und die Prüfung wiederholen, die sie nicht bestand"},
      {"limit_missing", "eine Ebene ohne zulässige Restunwucht",
       "für jede Ebene eine zulässige Restunwucht in die Wellendatei schreiben und damit einen neuen Auftrag beginnen"},
      {"share_bounded", "Anteil einer Ebene auf 0,3 bis 0,7 begrenzt",
       "nichts, oder die zulässige Restunwucht vorgeben"},
  };
  for (const GermanWarning& known : warnings)
    if (known.code == code) return known;
  return {};
}

/// Of a warning, or of a refusal.
std::string_view german_meaning(std::string_view code) {
  const std::string_view meaning = german_warning(code).meaning;
  return meaning.empty() ? german_refusal(code).what : meaning;
}

std::string_view german_remedy(std::string_view code) {
  const std::string_view remedy = german_warning(code).remedy;
  return remedy.empty() ? german_refusal(code).remedy : remedy;
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
