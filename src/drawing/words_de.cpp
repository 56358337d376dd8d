#include "counterspot/words.hpp"

#include <utility>

namespace counterspot {

namespace {

std::string_view german_warning(std::string_view code) {
  static constexpr std::pair<std::string_view, std::string_view> meanings[] = {
      {"clipped", "Signal am Anschlag des Wandlers"},
      {"dead_channel", "Kanal ohne Signal"},
      {"uneven_time", "Zeitspalte schwankt, im zulässigen Rahmen"},
      {"short_data", "etwas weniger Daten als angekündigt"},
      {"overrun", "Abtastwerte gingen verloren, die Aufnahme hat Lücken"},
      {"lost_pulses", "fehlende Drehzahlimpulse überbrückt"},
      {"double_pulses", "überzählige Drehzahlimpulse verworfen"},
      {"tach_jitter", "Drehzahlimpulse zeitlich unruhig"},
      {"weak_tach", "Drehzahlimpuls kaum über dem Rauschen"},
      {"speed_drift", "Drehzahl änderte sich während des Laufs"},
      {"few_revolutions", "kurzer Lauf"},
      {"order_2_dominant", "zweite Ordnung überwiegt: Gelenke und ihre Stellung prüfen, kein Gewicht behebt sie"},
      {"steady_part", "nur der gleichmäßige Teil der Aufnahme wurde verwendet"},
      {"interference", "fremde Schwingung nahe der Ordnung, mit ausgeglichen"},
      {"knocks", "Stöße während des Laufs, diese Umdrehungen zählen weniger"},
      {"beating", "Schwebung mit einer Nachbarmaschine"},
      {"loose_cable", "Signal springt: Kabel und Stecker prüfen"},
      {"near_resonance", "nahe einer Resonanz"},
      {"swapped_sensors", "Aufnehmer vermutlich vertauscht"},
      {"inverted_polarity", "Aufnehmer gegenüber einem früheren Lauf umgepolt"},
      {"wrong_sensitivity", "Empfindlichkeit um etwa das Zehnfache anders als zuvor"},
      {"no_uncertainty", "Messwerte ohne Unsicherheit eingetippt"},
      {"speeds_differ", "Läufe auf eine Drehzahl umgerechnet"},
      {"ill_conditioned", "Ebenen oder Testgewichte kaum unterscheidbar"},
      {"weak_trial", "Testgewicht änderte die Anzeige wenig"},
      {"plane_left_out", "eine Ebene blieb außer Betracht, andere ersetzen sie"},
      {"spins_disagree", "Läufe widersprechen einander über ihre Unsicherheit hinaus"},
      {"out_of_band", "Welle verhält sich nicht wie ihre Baureihe"},
      {"flexible_shaft", "nahe der Biegeschwingung"},
      {"qualification_due", "Eignungsprüfung der Auswuchtbank fällig oder nicht bestanden"},
      {"share_bounded", "Anteil einer Ebene auf 0,3 bis 0,7 begrenzt"},
  };
  for (const auto& [known, meaning] : meanings)
    if (known == code) return meaning;
  return {};
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
      .limit = "Grenze",
      .limit_of = "Grenze {}",
      .spin = "Lauf",
      .last_spin = "letzter Lauf",
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
      .critical_speed = "kritisch",
      .order = "Ordnung",
      .sensor = "Aufnehmer {}",
      .path_of_vector = "Weg des Vektors",
      .time = "Zeit",
      .tach_edges = "Dreiecke: Flanken der Marke",
      .residual_over_limit = "Restunwucht durch Grenze",
      .job_after_job = "Auftrag um Auftrag",
      .within = "innerhalb",
      .outside = "außerhalb",
      .unsure = "unsicher",
      .centre = "Mitte",
      .control_limits = "Eingriffsgrenzen",
      .spectrum = "Ordnungen",
      .frequency = "Frequenz",
      .map_scale = "mehr Farbe, mehr Bewegung: voll bei {}",
      .sheet_title = "WUCHTBLATT",
      .shaft = "Welle",
      .rig = "Prüfstand",
      .job = "Auftrag",
      .opened = "begonnen",
      .closed = "abgeschlossen",
      .not_closed = "nicht abgeschlossen: kein endgültiger Nachweis",
      .balancing_speed = "gewuchtet bei",
      .service_speed = "Betriebsdrehzahl",
      .mass = "Masse",
      .tube = "Rohr",
      .grade = "Gütestufe",
      .limits_typed = "Grenzen vorgegeben",
      .place = "Ort",
      .support = "Lager {}",
      .as_found_column = "Urzustand",
      .residual = "Restunwucht",
      .verdict = "Urteil",
      .verdict_by =
          "ISO 21940-14: innerhalb nur, wenn Restunwucht plus Unsicherheit die Grenze nicht übersteigt; Grenzen nach "
          "ISO 21940-11",
      .no_final = "keine endgültige Restunwucht",
      .no_uncertainty = "Unsicherheit unbekannt: das Urteil beruht allein auf dem Wert",
      .pieces = "ANGEBRACHT, im Urzustand nicht vorhanden",
      .no_pieces = "nichts",
      .piece_mass = "Masse",
      .radius = "Radius",
      .clock = "Uhr",
      .tape = "Bandmaß ab Marke",
      .shaft_angle = "Wellenwinkel",
      .spins = "Läufe",
      .spins_made = "{} Läufe",
      .of_which_taken_back = "{} Einträge zurückgenommen",
      .notes = "HINWEISE",
      .of_warning = german_warning,
      .remarks = "BEMERKUNGEN",
      .recordings = "AUFNAHMEN (SHA-256)",
      .typed_in = "eingetippt",
      .and_more = "und {} weitere, im Protokoll",
      .balanced_by = "gewuchtet von",
      .inspected_by = "geprüft von",
      .date_and_signature = "Name, Datum, Unterschrift",
      .cautions =
          "Grenzen für Straße, Hebezeuge und Personenbeförderung legen der verantwortliche Ingenieur, die örtlichen "
          "Regeln und der Hersteller fest; sie geben frei. Vor dem Lauf prüfen, dass jedes Gewicht fest sitzt.",
      .program = "geschrieben von {}",
      .used_prior = "mit Koeffizienten früherer Wellen",
      .ninety_five =
          "± gilt für 95 % der Fälle (k = 2); darin sind Rauschen und Streuung der Läufe, das Setzen der Gewichte "
          "sowie "
          "Adapter, Aufspannung und Prüfstand, soweit bekannt",
      .small_mass_readings = "Anzeigen der kleinen Prüfmasse durch ihr Mittel",
      .reduction_ratio = "Unwucht-Reduzierverhältnis",
      .test_mass_at = "Prüfmasse bei, Grad",
      .allowed = "erlaubt",
      .claimed = "zugesagt",
  };
  return words;
}

}  // namespace counterspot
