#include "counterspot/drawing/rig_model_words.hpp"

namespace counterspot {

const RigModelWords& german_rig_model_words() {
  static constexpr RigModelWords words{
      .head = "AUSWUCHTBANK {}   {}",
      .hard = "hart gelagert, gelernt aus {}, {} bis {}",
      .soft = "weich gelagert, gelernt aus {}, {} bis {}",
      .one_job = "{} Auftrag",
      .jobs = "{} Aufträgen",
      .of_others = ", davon {} aus einem anderen Logbuch",
      .and_qualification = " und ihrer Eignungsprüfung",
      .only_qualification = "ihrer Eignungsprüfung",
      .qualification = "Eignungsprüfung",
      .not_known = "noch nicht bekannt",
      .not_known_by = "noch nicht bekannt (± {} %)",
      .pedestal = "LAGERBOCK {}",
      .moving_mass = "bewegte Masse",
      .natural_frequency = "Eigenfrequenz",
      .Hz_bare = "Hz, ohne Welle",
      .damping = "Dämpfung",
      .of_critical = "% der kritischen",
      .dynamic_stiffness = "dynamische Steifigkeit",
      .N_um_at = "N/um bei {} min⁻¹",
      .sensor_reads = "sein Aufnehmer zeigt",
      .of_what_is_there = "% des Vorhandenen",
      .sensor_at = "sein Aufnehmer steht bei",
      .drift = "Drift",
      .drift_unknown = "vor 8 Aufträgen nicht bekannt",
      .drift_of = "{} % in den neuesten Aufträgen, ± {} %",
      .coupling = "KOPPLUNG der Lagerböcke über das Bett",
      .stiffness = "Steifigkeit",
      .mass = "Masse",
      .of_pedestals = "% der eigenen der Lagerböcke",
      .bed = "BETT, das sich auf seinen Füßen bewegt",
      .moves = "bewegt sich auf und ab",
      .tilts = "kippt",
      .Hz_by_itself = "Hz für sich allein",
      .swinging = "ETWAS, DAS SCHWINGT, an {}",
      .on_both = "beiden Lagerböcken",
      .on_pedestal = "Lagerbock {}",
      .swings = "schwingt",
      .foretold = "VORHERGESAGT vor dem ersten Messlauf, für ein glattes Rohr mit 5 kg an den Enden",
      .span = "{} m zwischen den Lagern, {} kg, {} min⁻¹",
      .good = "gut",
      .fair = "mäßig",
      .unknown = "unbekannt",
      .taught_by = "GELERNT AUS, mit dem, was jeder von der Steifigkeit der Lagerböcke gegen alle anderen sagt",
      .teacher = "{} {}, {} min⁻¹",
      .set_aside = "; beiseitegelegt, siehe PRÜFEN",
      .brought_in = "ÜBERNOMMEN aus einem anderen Logbuch, und geglaubt, als wären seine Aufträge hier",
      .file = "{}, geschrieben {} von {}, übernommen {}",
      .shafts = "Wellen {}",
      .shaft = "WELLE {}",
      .resonates_near = "Resonanzen nahe",
      .on_this_rig = "{}, auf dieser Auswuchtbank",
      .rpm = "{} min⁻¹",
      .one_not_known = "eine noch nicht bekannt",
      .no_resonance = "keiner Drehzahl, bei der sie ausgewuchtet werden könnte",
      .balance_at = "auswuchten bei",
      .balance_best = "AUSWUCHTEN bei",
      .best = "{} min⁻¹: abseits davon und gut abzulesen; Koeffizienten auf ± {} % vorhergesagt",
      .no_safe_speed =
          "keine Drehzahl zu empfehlen: keine ab 400 min⁻¹ ist für sie sicher, nicht über der Betriebsdrehzahl und auf "
          "dieser Auswuchtbank bekannt",
      .none_away = "keine Drehzahl zu empfehlen: keine bis {} min⁻¹ liegt sicher 30 % davon entfernt",
      .look_at = "PRÜFEN  {}.",
      .nothing_to_look_at =
          "Nichts zu prüfen: kein Auftrag ist beiseitegelegt, kein Aufnehmer und kein Lagerbock hat sich verändert.",
      .job_aside =
          "{} ({}) zählt kaum: seine Messläufe widersprechen allen anderen Aufträgen (χ² {} von {}). Prüfen, was dort "
          "als angebracht angegeben wurde, und die Masse der Welle",
      .sensor_step =
          "Ab {} ({}) zeigt Aufnehmer {} um {} % {} und {}° {}. Wurde er getauscht oder versetzt? Wenn nicht, seine "
          "Befestigung und sein Kabel prüfen, und Lagerbock {}: Fußschrauben, ein gerissener Fuß",
      .more = "mehr",
      .less = "weniger",
      .later = "später",
      .earlier = "früher",
      .softer =
          "Lagerbock {} ist in den neuesten Aufträgen um {} % weicher geworden. Seine Fußschrauben prüfen, einen "
          "gerissenen Fuß, was an ihn geklemmt ist",
      .stiffer =
          "Lagerbock {} ist in den neuesten Aufträgen um {} % steifer oder schwerer geworden. Prüfen, was an ihm "
          "anliegt oder an ihn gebaut wurde, und seine Federn",
      .bed_near =
          "Das Bett ist nahe {} in Resonanz, mitten unter den Drehzahlen, bei denen hier ausgewuchtet wird. Bei "
          "stillstehender Auswuchtbank seine Füße prüfen und was sie am Boden hält; abseits davon auswuchten",
      .and_ = " und ",
      .swings_near =
          "Etwas schwingt nahe {} min⁻¹ für sich allein an {}, mitten unter den Drehzahlen, bei denen hier "
          "ausgewuchtet "
          "wird. Dort bei stillstehender Auswuchtbank eine lose Haube, einen Halter, Schlauch oder ein Kabel suchen; "
          "abseits davon auswuchten",
  };
  return words;
}

}  // namespace counterspot
