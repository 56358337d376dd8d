#include "counterspot/drawing/picture_words.hpp"

namespace counterspot {

namespace {

const char* german_source(ErrorSource source) {
  switch (source) {
    case ErrorSource::readings: return "Rauschen der Anzeigen";
    case ErrorSource::setting: return "Setzen der Gewichte";
    case ErrorSource::turning: return "Verdrehen gegen die Adapter";
    case ErrorSource::earlier_shafts: return "Koeffizienten früherer Wellen";
    case ErrorSource::adapters: return "Adapter";
    case ErrorSource::mounting: return "Aufspannen der Welle";
    case ErrorSource::unseen: return "was die Drehzahlen nicht zeigen";
    case ErrorSource::rig: return "Wiederholbarkeit der Auswuchtbank";
  }
  return "";
}

}  // namespace

const PictureWords& german_picture_words() {
  static constexpr PictureWords words{
      .shaft = "Welle {}",
      .job = "Auftrag {}",
      .rig = "Auswuchtbank {}",
      .files_of = "Dateien vom {}",
      .as_of = "Stand {}",
      .verdict = "Bewertung: {}",
      .metric = "metrische Einheiten",
      .inch = "Zoll-Einheiten",
      .noise_floor = "Rauschen",
      .lines_apart = "Linien im Abstand von {} Ordnungen",
      .band_of_95 = "gepunktet: darin liegt sie in 95 von 100 Fällen",
      .steady_in_map = "Dreiecke: feste Frequenzen, Hz",
      .residual_of_spins = "RESTUNWUCHT DURCH ZULÄSSIGE, MESSLAUF UM MESSLAUF",
      .spin_after_spin = "Messlauf um Messlauf",
      .unsure_by = "WORIN DIE UNSICHERHEIT DER RESTUNWUCHT LIEGT",
      .standard_of_magnitude = "Standardunsicherheit ihres Betrags",
      .together = "zusammen",
      .of_source = german_source,
      .coefficients_of_jobs = "KOEFFIZIENTEN DER AUSWUCHTBANK, AUFTRAG UM AUFTRAG",
      .size_of_first = "Größe gegen die ersten Aufträge",
      .turned_by = "gedreht um",
      .band = "Band",
      .too_few_jobs = "noch zu wenige Aufträge zum Vergleichen",
      .rig_health = "ZUSTAND DER AUSWUCHTBANK, PRÜFUNG UM PRÜFUNG",
      .sensor_change = "Aufnehmer zeigen mehr um",
      .bare_moved = "Anzeige der bloßen Prüfwelle verschoben um",
      .check_after_check = "Prüfung um Prüfung",
      .orbit = "WELLENBAHN, {}",
      .orbit_note = "Aufnehmer im rechten Winkel, {}",
      .mark_passes = "Punkt: die Marke geht am Drehzahlgeber vorbei",
      .one_piece = "1 Stück",
      .pieces = "{} Stück",
      .worst_of_limit = "höchstens {} der zulässigen",
      .or_fewer = "ODER {}",
      .trials_off = "ZUERST die Testgewichte abnehmen: {}",
      .vectors_key =
          "Vektoren: dick der letzte, gestrichelt frühere Messläufe; Strich-Punkt-Punkt: zulässig; "
          "gepunktet: enthält den letzten in 95 von 100 Fällen",
  };
  return words;
}

}  // namespace counterspot
