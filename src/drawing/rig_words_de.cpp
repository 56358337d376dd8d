#include "counterspot/drawing/rig_words.hpp"

namespace counterspot {

namespace {

std::string_view german_task(RigTask task) {
  switch (task) {
    case RigTask::qualification: return "Eignungsprüfung";
    case RigTask::check: return "Tagesprüfung";
    case RigTask::recalibration: return "Neukalibrierung";
  }
  return "";
}

std::string_view german_rig_place(RigPlace place) {
  switch (place) {
    case RigPlace::sensors: return "Aufnehmer";
    case RigPlace::separation: return "Ebenentrennung";
    case RigPlace::smallest_residual: return "kleinste erreichbare Restunwucht";
    case RigPlace::reduction: return "Unwucht-Reduzierverhältnis";
    case RigPlace::speed: return "Einfluss der Drehzahl";
    case RigPlace::adapters: return "Adapter";
  }
  return "";
}

std::string_view german_rig_verdict(RigVerdict verdict) {
  switch (verdict) {
    case RigVerdict::passed: return "bestanden";
    case RigVerdict::failed: return "nicht bestanden";
    case RigVerdict::not_judged: return "nicht beurteilt";
  }
  return "";
}

const char* german_finding(RigTask task, RigPlace place) {
  const bool check = task == RigTask::check;
  switch (place) {
    case RigPlace::sensors:
      return check ? "die Anzeige der bekannten Massen weicht bis zu {} % vom Sollwert ab, erlaubt {} %"
                   : "ein Aufnehmer zeigt bis zu {} % anders an als bei der letzten Eignungsprüfung, erlaubt {} %";
    case RigPlace::separation: return "{} % eines Aufnehmers erscheinen zusätzlich im anderen, erlaubt {} %";
    case RigPlace::smallest_residual:
      return "Anzeigen der kleinen Prüfmasse weichen bis zu {} % von ihrem Mittel ab, eine ausgenommen, erlaubt {} %";
    case RigPlace::reduction: return "nach einem Ausgleichsschritt bleiben bis zu {} % der Unwucht, erlaubt {} %";
    case RigPlace::speed:
      return "10 % Drehzahl ändern die Anzeige einer Prüfmasse um {} % gegenüber der Regel, erlaubt {} %";
    case RigPlace::adapters:
      return check ? "ohne Prüfmassen zeigt die Prüfwelle {} g·mm neben dem Wert der Eignungsprüfung, erlaubt {} g·mm"
                   : "Aufspannung und Unwucht der Adapter erreichen {} % des Erlaubten ({} %)";
  }
  return "";
}

const char* german_rig_remedy(RigPlace place) {
  switch (place) {
    case RigPlace::sensors:
      return "Schrauben der Lagerböcke und Sitz der Massen prüfen, dann Aufnehmer, Kabel und Empfindlichkeit";
    case RigPlace::separation: return "Kabel, Stecker und Eingänge des Wandlers prüfen";
    case RigPlace::smallest_residual: return "nach losen Aufnehmern, Kabeln und Schrauben der Lagerböcke suchen";
    case RigPlace::reduction: return "Prüfmassen und die Winkel prüfen, in denen sie saßen";
    case RigPlace::speed:
      return "ein Lagerbock ist nahe seiner Resonanz: nach einem losen oder weich gewordenen suchen";
    case RigPlace::adapters: return "Zentrierungen, Schrauben und Rundlauf der Adapter prüfen";
  }
  return "";
}

const char* german_unjudged(Unjudged why) {
  switch (why) {
    case Unjudged::first_time: return "erste Eignungsprüfung dieser Auswuchtbank: sie wird zum Bezug";
    case Unjudged::no_repeat: return "nicht beurteilt, weil die Auswuchtbank ihre Anzeigen nicht wiederholt";
    case Unjudged::pedestal:
      return "nicht beurteilt, denn was ein Lagerbock verursacht, liegt nicht an einem Aufnehmer";
  }
  return "";
}

}  // namespace

const RigWords& german_rig_words() {
  static constexpr RigWords words{
      .of_task = german_task,
      .of_place = german_rig_place,
      .of_verdict = german_rig_verdict,
      .failed_loud = "NICHT BESTANDEN",
      .fit = "ANBRINGEN:",
      .mass_to_fit = " {} g in Ebene {} bei {}°",
      .and_spin = ", sonst nichts, dann MESSLAUF",
      .spin_bare = "MESSLAUF: die Prüfwelle ohne Prüfmassen",
      .at_part_of_speed = " bei {} % der Drehzahl",
      .turned = ", um {}° gegen ihre Adapter gedreht",
      .mass = "Ebene {}: {} g, Uhrstellung {}, von Ende {} gesehen, Marke auf 12:00; Wellenwinkel {}°, Radius {} mm",
      .at_first_speed = "bei der Auswuchtdrehzahl; alle weiteren Messläufe bei derselben",
      .at_speed = "bei {} min⁻¹",
      .mark_to_mark = "mit ihrer Marke an der Marke der Adapter einbauen und so lassen, bis eine Drehung verlangt wird",
      .left_alone = "die Welle in ihren Adaptern lassen, wie sie ist",
      .mount_turned =
          "die Welle ausbauen und mit ihrer Marke {}° von der Marke der Adapter wieder einbauen, gegen die "
          "Drehrichtung gezählt",
      .spin_next = "WEITER  Messen, dann 'rig spin AUFNAHME'.",
      .no_result = "Alle Messläufe sind gemacht und lassen sich nicht beurteilen",
      .qualified = "Die Auswuchtbank HAT die Eignungsprüfung BESTANDEN",
      .not_qualified = "Die Auswuchtbank HAT die Eignungsprüfung NICHT BESTANDEN",
      .within = "Die Auswuchtbank liegt INNERHALB ihrer Toleranz",
      .outside = "Die Auswuchtbank liegt AUSSERHALB ihrer Toleranz",
      .sensitivities_found = "Neue Empfindlichkeiten sind bestimmt",
      .no_sensitivities = "Neue Empfindlichkeiten würden hier nicht helfen",
      .ended = "{} abgebrochen: {}",
      .of_finding = german_finding,
      .of_remedy = german_rig_remedy,
      .of_unjudged = german_unjudged,
      .sensor_reads = "Aufnehmer {} zeigt von den bekannten Massen das {}-Fache des Sollwerts, um {}° gedreht",
      .no_sensitivity_explains =
          "eine Empfindlichkeit erklärt weder eine Drehung noch {} % eines Aufnehmers im anderen: erst Aufnehmer und "
          "Kabel instand setzen",
      .qualified_numbers =
          "Umar gefunden {} g·mm in {}, {} g·mm in {};  Reduzierverhältnis mindestens {} %;  Aufspannungen "
          "unterscheiden sich um {} g·mm",
      .report_next = "WEITER  'rig report' schreibt den Bericht; jeden Tag 'rig check'.",
      .mend = "WEITER  Beheben, was nicht bestanden hat ({}), und {}.",
      .qualify_again = "die Eignungsprüfung wiederholen",
      .check_again = "die Tagesprüfung wiederholen, bevor eine Welle ausgewuchtet wird",
      .go_on = "WEITER  Es darf ausgewuchtet werden.",
      .begin_again = "WEITER  Aufnehmer und Kabel instand setzen und neu beginnen.",
      .sensitivity_change = "Aufnehmer {}  das {}-Fache dessen, was in seiner Datei steht",
      .write_next =
          "WEITER  'rig recalibrate --write --rig rig.toml' schreibt die neuen Empfindlichkeiten in die Datei der "
          "Auswuchtbank.",
      .head = "AUSWUCHTBANK {}   {} mit {}",
      .number = "{} von {}",
      .begun = ", begonnen {}",
      .spin_of_step = "Messlauf  Schritt {}",
      .judged = "beurteilt",
      .ended_by = "abgebrochen: {}",
      .rig = "AUSWUCHTBANK {}   ",
      .never_qualified = "ohne Eignungsprüfung",
      .qualified_on = "Eignungsprüfung bestanden am {}, fällig {}",
      .overdue = ": ÜBERFÄLLIG",
      .last_failed = "Die letzte Eignungsprüfung wurde NICHT BESTANDEN:",
      .last_check = "letzte Tagesprüfung {}: {}",
      .check_within = "innerhalb der Toleranz",
      .check_outside = "AUSSERHALB der Toleranz",
      .last_knocks = "letzte Prüfung mit Schlägen {}: {}",
      .knocks_within = "wie zuvor",
      .knocks_against = "NICHT WIE ZUVOR: {}",
      .report_written = "die Eignungsprüfung der Auswuchtbank {}",
      .of_model = german_rig_model_words,
  };
  return words;
}

}  // namespace counterspot
