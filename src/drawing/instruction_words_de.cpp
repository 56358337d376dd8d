#include "counterspot/drawing/instruction_words.hpp"

namespace counterspot {

namespace {

std::string_view german_rule(TrialRule rule) {
  switch (rule) {
    case TrialRule::coefficient: return "es ändert die Anzeige um 30 %";
    case TrialRule::support_load: return "es zieht mit 10 % der Last auf dem Lager";
    case TrialRule::limit: return "das Doppelte der zulässigen Restunwucht";
    case TrialRule::room: return "mehr darf die Ebene nicht tragen";
    case TrialRule::least_limit: return "so viel wie die zulässige Restunwucht";
  }
  return "";
}

std::string_view german_place(TrialPlace place) {
  switch (place) {
    case TrialPlace::at_mark: return "an der Marke, da noch nichts zeigt, welche Seite die leichte ist";
    case TrialPlace::by_coefficients: return "dort sollte es die Schwingung verringern";
    case TrialPlace::by_other_plane:
      return "dort sollte es die Schwingung verringern, wenn beide Enden der Auswuchtbank gleich ansprechen";
  }
  return "";
}

std::string_view german_title(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found: return "Messlauf: Welle im Urzustand";
    case StepKind::spin: return "Messlauf mit den angebrachten Gewichten";
    case StepKind::spin_again: return "Nochmals messen, länger";
    case StepKind::fit_trial: return "Testgewicht anbringen";
    case StepKind::fit_correction: return "Anbringen, was gezeigt ist";
    case StepKind::say_fitted: return "Was ist auf der Welle?";
    case StepKind::close: return "Zulässige Restunwucht eingehalten";
    case StepKind::close_not_within: return "Zulässige Restunwucht nicht eingehalten";
    case StepKind::mend: return "Messläufe prüfen";
    case StepKind::nothing: return "Dieser Auftrag ist abgeschlossen";
  }
  return "";
}

}  // namespace

const InstructionWords& german_instructions() {
  static constexpr InstructionWords words{
      .speed = "{} min⁻¹",
      .short_piece = "{} g auf {} Uhr in Ebene {}",
      .place = "Ebene {}: {} g, Uhrstellung {}, von Ende {} gesehen, Marke auf 12:00, Radius {} mm",
      .by_tape = "; mit dem Bandmaß {} mm {} von der Marke",
      .pull = "; Fliehkraft {} N",
      .shaft_angle = "Wellenwinkel {}°",
      .at_mark = "an der Marke, {}",
      .tape_from_mark = "mit dem Bandmaß {} {} von der Marke, {}",
      .nothing = "nichts",
      .spin_as_found = "MESSLAUF: die Welle im Urzustand",
      .spin_on = "MESSLAUF: die Welle mit den Gewichten, die jetzt angebracht sind",
      .at_speed = ", bei {}",
      .record_as_found =
          "ohne angebrachte Gewichte; mindestens zehn Sekunden bei gleichbleibender Drehzahl aufnehmen, dann 'job spin "
          "DATEI'",
      .bends =
          "diese Welle biegt sich in ihrem Drehzahlbereich: mit jedem Satz von Gewichten wird bei jeder dieser "
          "Drehzahlen gemessen",
      .none_on = "nichts ist angebracht",
      .one_on = "ein Gewicht ist angebracht",
      .several_on = "{} Gewichte sind angebracht",
      .record_as_before = "{}; bei der Drehzahl der bisherigen Messläufe aufnehmen, dann 'job spin DATEI'",
      .spin_longer = "NOCHMALS MESSEN, länger: zu nahe an der zulässigen Restunwucht für eine sichere Bewertung",
      .nothing_to_fit = "nichts anbringen; eine längere und ruhigere Aufnahme verkleinert die Unsicherheit",
      .spins_contradict = "NOCHMALS MESSEN: die Messläufe widersprechen einander",
      .fit_trial = "TESTGEWICHT ANBRINGEN in Ebene {}: {} g auf {} Uhr",
      .and_fit_trial = " und in Ebene {}: {} g auf {} Uhr",
      .rule_and_place = "{}; {}",
      .of_rule = german_rule,
      .of_place = german_place,
      .of_stock = "aus dem Vorrat: {}; 'job fit --as-asked' verlangt dasselbe --stock",
      .take_off_first = "GEWICHTE ABNEHMEN in Ebene {}, dann dort ein einziges Testgewicht anbringen",
      .may_carry = "die Ebene darf insgesamt {} g tragen",
      .find_trial = "TESTGEWICHT SUCHEN für Ebene {}: aus dem Vorrat darf dort nichts angebracht werden",
      .fit_any_trial = "TESTGEWICHT ANBRINGEN in Ebene {}, an der Marke",
      .how_heavy =
          "vorher wiegen; es soll die Anzeige um etwa ein Drittel ändern und mit höchstens einem Zehntel der Last auf "
          "seinem Lager ziehen",
      .no_more_than = "höchstens {} g",
      .then_say =
          "danach mit 'job fit' angeben, was angebracht wurde, und messen; frühere Testgewichte dürfen bleiben oder "
          "abgenommen werden, solange 'job fit' es angibt",
      .chance_falls = "Wahrscheinlichkeit, dass die Schwingung abnimmt: {} %",
      .chance_within = "; dass die zulässige Restunwucht mit diesem Messlauf eingehalten ist: {} %",
      .spins_trial_first = "noch nötige Messläufe: etwa {} auf diesem Weg, etwa {} mit einem Ausgleich zuerst",
      .spins_correction_first = "noch nötige Messläufe: etwa {} auf diesem Weg, etwa {} mit einem Testgewicht zuerst",
      .fit = "ANBRINGEN: {}",
      .off_and_fit = "TESTGEWICHTE ABNEHMEN und ANBRINGEN: {}",
      .take_off = "abnehmen: {}",
      .numbered_piece = "Gewicht {}, {}",
      .no_more = "mit den Testgewichten dürfen die Ebenen nichts mehr tragen, was es besser macht",
      .or_leave_on = "ODER die Testgewichte belassen und zusätzlich anbringen:",
      .on_top = "zusätzlich zu dem, was auf der Welle ist; {}",
      .expected = "voraussichtlich bleiben etwa {} % der zulässigen Restunwucht",
      .expected_by_earlier = "nach dem, was frühere Wellen gelehrt haben, bleiben etwa {} % der zulässigen Restunwucht",
      .if_so = "{}; wenn so ausgeführt: '{}'",
      .was_it_on =
          "ANGEBEN: ein Gewicht war verlangt und keines wurde angegeben, aber die Anzeige änderte sich um {} %: ist es "
          "angebracht?",
      .what_is_on = "ANGEBEN, was angebracht ist: nichts wurde angegeben, aber die Anzeige änderte sich um {} %",
      .on_as_asked = "es war im letzten Messlauf wie verlangt angebracht: '{}'",
      .on_other = "ein anderes Gewicht war angebracht: '{}'",
      .on_none = "nichts wurde angebracht oder abgenommen: '{}', und klären, warum sich die Anzeige änderte",
      .close = "AUFTRAG ABSCHLIESSEN: die zulässige Restunwucht ist eingehalten",
      .final_residual = "die Restunwucht beträgt am Ende {} % der zulässigen; 'job close' schreibt sie ins Logbuch",
      .close_outside = "AUFTRAG ABSCHLIESSEN: die zulässige Restunwucht ist nicht eingehalten",
      .close_unsure = "AUFTRAG ABSCHLIESSEN: es lässt sich nicht sagen, ob die zulässige Restunwucht eingehalten ist",
      .written_as = "'job close' schreibt ins Logbuch: {}",
      .still_in_doubt = "nach {} Messläufen mit diesen Gewichten noch immer: {}",
      .too_unsure = "nach {} gleichen Messläufen beträgt die Restunwucht {} % der zulässigen und ihr ± {} %",
      .what_is_unsure =
          "'solve --budget' sagt, woher das ± kommt; schwerere Testgewichte in einem neuen Auftrag verkleinern es",
      .too_many = "nach {} Ausgleichsschritten ist die zulässige Restunwucht nicht eingehalten",
      .what_changes =
          "suchen, was sich von Messlauf zu Messlauf ändert: Schrauben, Gelenke, Lager, die Marke; und ob jedes "
          "Gewicht so "
          "angegeben ist, wie es angebracht wurde",
      .no_room = "kein Gewicht, das die Ebenen noch tragen dürfen, macht es besser",
      .more_room = "andere Ausgleichsebenen nehmen oder mehr zulassen (at_most)",
      .no_answer = "MESSLÄUFE PRÜFEN: sie führen zu keinem Ergebnis",
      .in_doubt_first = "ZUERST PRÜFEN: die Anzeigen sind fraglich",
      .doubted_spin = "Messlauf '{}': {}",
      .to_mend = "Abhilfe: {}",
      .spin_over_again = "dann Eintrag {} zurücknehmen, die Gewichte jenes Messlaufs anbringen und nochmals messen",
      .closed_already = "NICHTS ZU TUN: der Auftrag ist abgeschlossen",
      .title_of = german_title,
      .job = "AUFTRAG {}",
      .now = "jetzt ",
      .takes_back = "'job back {} --reason …' nimmt ihn zurück",
      .held_back = "FRAGLICH  {}{}\n    ABHILFE  {}\n",
      .of_spin = "Messlauf '{}': ",
      .of_spins = "Messläufe '{}': ",
      .held = "{}: {} von {}, {}",
      .doubted = "fraglich: {}",
      .taught_by_shafts = "nach dem, was frühere Wellen gelehrt haben",
      .taught_by_rig = "nach dem, was die Auswuchtbank gelehrt hat (frühere Wellen: {}{})",
      .from_elsewhere = ", davon aus einem anderen Logbuch: {}",
      .job_stands = "AUFTRAG {}   {}   begonnen {}   {}",
      .open = "offen",
      .closed = "abgeschlossen",
      .gone = "(zurückgenommen) ",
      .speed_read = "{} min⁻¹",
      .sensor_read = "Aufnehmer {}: {}",
      .reading = "{} {} bei {}°",
      .warning = "Warnung: {}",
      .note = "Hinweis: {}",
      .of_all_spins = "alle Messläufe: ",
      .of_many_spins = "{} Messläufe: ",
      .and_between = " und ",
      .to_between = " bis ",
      .nothing_more_on = "nichts, was im Urzustand nicht vorhanden war",
      .piece = "Ebene {}: {} bei {}°, Radius {}",
      .spin = "Messlauf: {}",
      .on_from_here = "von hier an auf der Welle",
      .taken_back = "zurückgenommen",
      .signed_now = "unterschrieben",
      .signed_by = "von {}, Schlüssel {}",
      .order_said = "Angaben ergänzt",
      .order_of = "Angaben zu Auftrag {}:",
      .no_order = "nichts angegeben",
      .entry = "Eintrag {}: {}",
      .closed_on_spin = "abgeschlossen mit dem Messlauf von Eintrag {}",
      .closed_without_spin = "abgeschlossen ohne letzten Messlauf",
      .job_is_closed = "AUFTRAG {} ist abgeschlossen.",
      .without_residual = "ohne endgültige Restunwucht",
      .closed_within =
          "WEITER  Welle als innerhalb kennzeichnen und ihr Auswuchtprotokoll unterschreiben lassen: counterspot sheet "
          "{}",
      .closed_otherwise =
          "WEITER  Welle aussondern, bis der verantwortliche Ingenieur entschieden hat; ihr Auswuchtprotokoll: "
          "counterspot sheet {}",
      .stated = "ANGEGEBEN als Eintrag {0}; 'job back {0} --reason …' nimmt ihn zurück",
      .now_on = "jetzt auf der Welle: ",
      .asked_for = "verlangt, zusätzlich zu dem, was angebracht war: ",
      .asked_bare = "verlangt, Testgewichte abgenommen: ",
      .or_on_top = "oder, Testgewichte belassen: ",
      .was_taken_back = "ZURÜCKGENOMMEN  Eintrag {}, {}",
      .caution = "VORSICHT",
      .caution_lines = {"Schutzhaube geschlossen, niemand in der Drehebene, Gewichte gegen die Fliehkraft gesichert, "
                        "Drehzahl unter der "
                        "sicheren",
                        "Grenze; beim Schweißen den Strom von Lagern und Aufnehmern fernhalten. Straße, Hebezeuge und "
                        "Personenbeförderung: darüber",
                        "entscheiden der verantwortliche Ingenieur, die örtlichen Regeln und der Hersteller."},
  };
  return words;
}

}  // namespace counterspot
