// The instruction of a job in German, each kind of it to the letter: numbers with a decimal comma, speeds in min⁻¹,
// commands as they are typed. The words are those of the trade (DIN ISO 21940-2, from memory): Unwucht, Restunwucht,
// zulässige Restunwucht, Testgewicht, Messlauf.
#include <catch2/catch.hpp>
#include <regex>

#include "counterspot/drawing/instruction_words.hpp"
#include "job/pencil_rig.hpp"
#include "report/job_text.hpp"
#include "report/text.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

using Details = std::vector<std::string>;

KnownJob known_of(Job job) {
  Analysis analysis = analyse(job, {});
  return {std::move(job), {}, std::move(analysis)};
}

/// Spun as found and with a trial weight in each plane, the second of them still on.
Job with_trials(const PencilRig& rig = {}) {
  Job job = new_job();
  append(job, rig.spin({}));
  for (const FittedWeight& trial : {FittedWeight{0, 0.01, 0.04, 0.4}, FittedWeight{1, 0.01, 0.04, 2.0}}) {
    append(job, Fitted{{trial}});
    append(job, rig.spin({trial}));
  }
  return job;
}

StepWords in_german(const NextStep& step, const KnownJob& known) {
  return step_words(step, known, german());
}

StepWords in_german(const KnownJob& known) {
  return in_german(known.next(), known);
}

NextStep asking(StepKind kind) {
  return NextStep{kind};
}

NextStep ending(EndReason reason) {
  NextStep step = asking(StepKind::close_not_within);
  step.end = End{reason, 3, 0.25};
  step.doubts = {{{WarningCode::swapped_sensors, std::nullopt, "sensors A and B are swapped"}, {}}};
  return step;
}

bool holds(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("auf Deutsch: der erste Messlauf, der Messlauf mit Gewichten, der Messlauf bei einer verlangten Drehzahl") {
  const StepWords first = in_german(known_of(new_job()));
  CHECK(first.words == "MESSLAUF: die Welle im Urzustand");
  CHECK(first.details == Details{"ohne angebrachte Gewichte; mindestens zehn Sekunden bei gleichbleibender Drehzahl "
                                 "aufnehmen, dann 'job spin DATEI'"});
  const KnownJob known = known_of(with_trials());
  NextStep spin = asking(StepKind::spin);
  CHECK(in_german(spin, known).words == "MESSLAUF: die Welle mit den Gewichten, die jetzt angebracht sind");
  CHECK(in_german(spin, known).details.front() ==
        "ein Gewicht ist angebracht; bei der Drehzahl der bisherigen Messläufe aufnehmen, dann 'job spin DATEI'");
  spin.speed_rad_s = rad_per_s(1800.0);
  CHECK(in_german(spin, known).words ==
        "MESSLAUF: die Welle mit den Gewichten, die jetzt angebracht sind, bei 1800 min⁻¹");
  spin.kind = StepKind::spin_as_found;
  CHECK(in_german(spin, known).details.front() ==
        "diese Welle biegt sich in ihrem Drehzahlbereich: mit jedem Satz von Gewichten wird bei jeder dieser "
        "Drehzahlen gemessen");
}

TEST_CASE("auf Deutsch: nochmals messen, weil es knapp ist oder weil die Messläufe einander widersprechen") {
  const KnownJob known = known_of(with_trials());
  NextStep again = asking(StepKind::spin_again);
  CHECK(in_german(again, known).words ==
        "NOCHMALS MESSEN, länger: zu nahe an der zulässigen Restunwucht für eine sichere Bewertung");
  CHECK(in_german(again, known).details ==
        Details{"nichts anbringen; eine längere und ruhigere Aufnahme verkleinert die Unsicherheit"});
  again.doubts = {{{WarningCode::spins_disagree, std::nullopt, "the 3 spins contradict one another", {}, {"A"}}, {}}};
  CHECK(in_german(again, known).words == "NOCHMALS MESSEN: die Messläufe widersprechen einander");
  CHECK(in_german(again, known).details ==
        Details{"Aufnehmer A: Messläufe widersprechen einander über ihre Unsicherheit hinaus",
                "angegebene Gewichte und Kabel der Aufnehmer prüfen und nochmals messen"});
}

TEST_CASE("auf Deutsch: ein Testgewicht, wie schwer, wo, und warum") {
  Job job = new_job();
  append(job, PencilRig().spin({}));
  const KnownJob known = known_of(job);
  NextStep step = asking(StepKind::fit_trial);
  PlannedTrial planned;
  planned.piece = {0, 12.34e-3, 0.039, radians(90.0)};
  planned.weight.rule = TrialRule::coefficient;
  planned.kind = "Schelle 12";
  step.trials = {{0, planned}};
  StepWords said = in_german(step, known);
  CHECK(said.words == "TESTGEWICHT ANBRINGEN in Ebene A: 12,3 g auf 3:00 Uhr");
  REQUIRE(said.details.size() == 4);
  // 38.1 mm · π/2 along the tube; 12.34 g · 39 mm · (188.5 rad/s)²
  CHECK(said.details[0] ==
        "Ebene A: 12,3 g, Uhrstellung 3:00, von Ende A gesehen, Marke auf 12:00, Radius 39,0 mm; mit dem Bandmaß 60 mm "
        "gegen Drehrichtung von der Marke; Fliehkraft 17 N");
  CHECK(said.details[1] ==
        "es ändert die Anzeige um 30 %; an der Marke, da noch nichts zeigt, welche Seite die leichte ist");
  CHECK(said.details[2] == "aus dem Vorrat: Schelle 12; 'job fit --as-asked' verlangt dasselbe --stock");
  CHECK(said.details[3] ==
        "danach mit 'job fit' angeben, was angebracht wurde, und messen; frühere Testgewichte dürfen bleiben oder "
        "abgenommen werden, solange 'job fit' es angibt");
  planned.piece.plane = 1;
  step.trials.push_back({1, planned});
  CHECK(in_german(step, known).words ==
        "TESTGEWICHT ANBRINGEN in Ebene A: 12,3 g auf 3:00 Uhr und in Ebene B: 12,3 g auf 3:00 Uhr");
  const auto without_plan = [&](NoTrial why) {
    step.trials = {{1, why}};
    return in_german(step, known);
  };
  CHECK(without_plan(NoTrial::plane_full).words ==
        "GEWICHTE ABNEHMEN in Ebene B, dann dort ein einziges Testgewicht anbringen");
  CHECK(without_plan(NoTrial::nothing_in_stock).words ==
        "TESTGEWICHT SUCHEN für Ebene B: aus dem Vorrat darf dort nichts angebracht werden");
  CHECK(without_plan(NoTrial::nothing_known).words == "TESTGEWICHT ANBRINGEN in Ebene B, an der Marke");
  CHECK(without_plan(NoTrial::nothing_known).details.front() ==
        "vorher wiegen; es soll die Anzeige um etwa ein Drittel ändern und mit höchstens einem Zehntel der Last auf "
        "seinem Lager ziehen");
}

TEST_CASE("auf Deutsch: der Ausgleich, mit dem Testgewicht ab oder darauf, und was danach bleibt") {
  const KnownJob known = known_of(with_trials());
  NextStep step = known.next();
  REQUIRE(step.kind == StepKind::fit_correction);
  REQUIRE(step.instead);
  const StepWords said = in_german(step, known);
  CHECK(said.words.starts_with("TESTGEWICHTE ABNEHMEN und ANBRINGEN: "));
  // 300 g·mm at 40 deg and 200 g·mm at 250 deg, at 40 mm, half a turn on: 220 and 70 deg, half a minute a degree.
  CHECK(holds(said.words, "7,5 g auf 7:20 Uhr in Ebene A, 5,0 g auf 2:20 Uhr in Ebene B"));
  CHECK(said.details.front() == "abnehmen: Gewicht 1, 10,0 g auf 3:49 Uhr in Ebene B");
  CHECK(holds(said.details[3], " % der zulässigen Restunwucht; wenn so ausgeführt: 'job fit --bare'"));
  CHECK(said.details[4] == "ODER die Testgewichte belassen und zusätzlich anbringen:");
  CHECK(holds(said.details.back(), "; wenn so ausgeführt: 'job fit --as-asked'"));
  step.instead.reset();
  CHECK(holds(in_german(step, known).details.back(),
              "zusätzlich zu dem, was auf der Welle ist; voraussichtlich bleiben etwa "));
  step.choice = Choice{{0.753, 0.981, 1.25}, {0.5, 0.5, 2.26}};
  Details details = in_german(step, known).details;
  CHECK(details.end()[-2] ==
        "Wahrscheinlichkeit, dass die Schwingung abnimmt: 98 %; dass die zulässige Restunwucht mit "
        "diesem Messlauf eingehalten ist: 75 %");
  CHECK(holds(details.back(), " auf diesem Weg, etwa 2,3 mit einem Testgewicht zuerst"));
  step.pieces.clear();
  CHECK(in_german(step, known).words == "ANBRINGEN: nichts");
  CHECK(in_german(step, known).details ==
        Details{"mit den Testgewichten dürfen die Ebenen nichts mehr tragen, was es besser macht"});
}

TEST_CASE("auf Deutsch: die Frage, was auf der Welle ist") {
  KnownJob known = known_of(with_trials());
  known.analysis.moved.emplace();
  known.analysis.moved->share = 0.42;
  NextStep step = asking(StepKind::say_fitted);
  CHECK(in_german(step, known).words ==
        "ANGEBEN, was angebracht ist: nichts wurde angegeben, aber die Anzeige änderte sich um 42 %");
  step.weight_asked = true;
  step.pieces = {{0, 0.01, 0.04, 0.0}};
  const StepWords said = in_german(step, known);
  CHECK(said.words ==
        "ANGEBEN: ein Gewicht war verlangt und keines wurde angegeben, aber die Anzeige änderte sich um 42 %: ist es "
        "angebracht?");
  REQUIRE(said.details.size() == 4);
  CHECK(said.details[1] == "es war im letzten Messlauf wie verlangt angebracht: 'job fit --was-on --as-asked'");
  CHECK(said.details[2] == "ein anderes Gewicht war angebracht: 'job fit --was-on \"A 12.5 g @ 138.4 deg\"'");
  CHECK(said.details[3] ==
        "nichts wurde angebracht oder abgenommen: 'job fit --unchanged', und klären, warum sich die Anzeige änderte");
}

TEST_CASE("auf Deutsch: der Auftrag ist abzuschließen, innerhalb oder nicht, und warum") {
  const KnownJob known = known_of(with_trials());
  const StepWords within = in_german(asking(StepKind::close), known);
  CHECK(within.words == "AUFTRAG ABSCHLIESSEN: die zulässige Restunwucht ist eingehalten");
  CHECK(within.details.front().starts_with("die Restunwucht beträgt am Ende "));
  CHECK(within.details.front().ends_with(" % der zulässigen; 'job close' schreibt sie ins Logbuch"));
  const auto end = [&](EndReason reason) { return in_german(ending(reason), known); };
  CHECK(end(EndReason::no_room).words == "AUFTRAG ABSCHLIESSEN: die zulässige Restunwucht ist nicht eingehalten");
  CHECK(end(EndReason::no_room).details == Details{"kein Gewicht, das die Ebenen noch tragen dürfen, macht es besser",
                                                   "andere Ausgleichsebenen nehmen oder mehr zulassen (at_most)",
                                                   "'job close' schreibt ins Logbuch: außerhalb"});
  CHECK(end(EndReason::stays_in_doubt).details.front() == "Aufnehmer vermutlich vertauscht");
  CHECK(end(EndReason::still_in_doubt).details.front() ==
        "nach 3 Messläufen mit diesen Gewichten noch immer: Aufnehmer vermutlich vertauscht");
  CHECK(holds(end(EndReason::too_unsure).details.front(), " % der zulässigen und ihr ± 25 %"));
  CHECK(end(EndReason::too_many).details.front() ==
        "nach 6 Ausgleichsschritten ist die zulässige Restunwucht nicht eingehalten");
  KnownJob unsure = known;
  unsure.analysis.solution->judgement.verdict = Verdict::unsure;
  CHECK(in_german(ending(EndReason::no_room), unsure).words ==
        "AUFTRAG ABSCHLIESSEN: es lässt sich nicht sagen, ob die zulässige Restunwucht eingehalten ist");
  CHECK(in_german(asking(StepKind::nothing), known).words == "NICHTS ZU TUN: der Auftrag ist abgeschlossen");
}

TEST_CASE("auf Deutsch: was vor allem anderen zu prüfen ist, mit Abhilfe") {
  const KnownJob known = known_of(with_trials());
  NextStep step = asking(StepKind::mend);
  CHECK(in_german(step, known).words == "MESSLÄUFE PRÜFEN: sie führen zu keinem Ergebnis");
  step.doubts = {{{WarningCode::loose_cable, "B", "sensor B: the signal steps", {"trial at A"}}, {4, 5}}};
  const StepWords said = in_german(step, known);
  CHECK(said.words == "ZUERST PRÜFEN: die Anzeigen sind fraglich");
  CHECK(said.details ==
        Details{"Messlauf 'trial at A': Aufnehmer B: Signal blieb aus oder sprang",
                "Abhilfe: Kabel und Stecker befestigen und nochmals messen",
                "dann Eintrag 4, 5 zurücknehmen, die Gewichte jenes Messlaufs anbringen und nochmals messen"});
}

TEST_CASE("auf Deutsch steht um die Anweisung kein englisches Wort, und die Warnung vor Gefahr ist dabei") {
  const std::string text = instruction_text(known_of(with_trials()), german());
  CHECK(text.starts_with("AUFTRAG PS-1042/1\n\n  TESTGEWICHTE ABNEHMEN und ANBRINGEN: "));
  CHECK(holds(text, "\n  jetzt außerhalb\n      A: 300"));
  CHECK(std::regex_search(text, std::regex(" g·mm von 40(,0+)? g·mm, außerhalb\n")));
  CHECK(holds(text, "VORSICHT  Schutzhaube geschlossen, niemand in der Drehebene,"));
  CHECK(holds(text, "Straße, Hebezeuge und Personenbeförderung"));
  for (const char* english_word : {" the ", " and ", " with ", " weight", "CAUTION", "rpm", "JOB", "seen", "limit"}) {
    CAPTURE(english_word);
    CHECK_FALSE(holds(text, english_word));
  }
  CHECK(held_back_text({{"swapped_sensors", "said", "mend", {"erster", "zweiter"}, {"A", "B"}}}, german()) ==
        "FRAGLICH  Messläufe 'erster', 'zweiter': Aufnehmer A, B: Aufnehmer vermutlich vertauscht\n"
        "    ABHILFE  Kabel richtig anschließen und jenen Messlauf wiederholen\n\n");
}

TEST_CASE("every warning has a remedy in German, and what has no code stays as it was said") {
  for (int code = 0; code <= static_cast<int>(WarningCode::share_bounded); ++code) {
    const std::string name = warning_code(static_cast<WarningCode>(code));
    CAPTURE(name);
    CHECK_FALSE(german().of_remedy(name).empty());
    // What asks for nothing in one language asks for nothing in the other.
    CHECK(german().of_remedy(name).starts_with("nichts") ==
          remedy_of(static_cast<WarningCode>(code)).starts_with("nothing"));
  }
  CHECK(meaning_text("", "die Kundin nahm sie so", {}, german()) == "die Kundin nahm sie so");
  CHECK(meaning_text("tach_lost", "said", {"tach"}, german()) == "Drehzahlimpulse blieben aus");
}

TEST_CASE("every text of an instruction takes the same numbers and names in German as in English") {
  const auto places = [](std::string_view text) {
    int count = 0;
    for (std::size_t at = text.find("{}"); at != std::string_view::npos; at = text.find("{}", at + 2)) ++count;
    return count;
  };
  const InstructionWords& en = english_instructions();
  const InstructionWords& de = german_instructions();
  for (const auto text : {&InstructionWords::short_piece, &InstructionWords::place, &InstructionWords::by_tape,
                          &InstructionWords::fit_trial, &InstructionWords::and_fit_trial, &InstructionWords::too_unsure,
                          &InstructionWords::spins_trial_first, &InstructionWords::spins_correction_first,
                          &InstructionWords::held, &InstructionWords::held_back, &InstructionWords::taught_by_rig,
                          &InstructionWords::if_so, &InstructionWords::numbered_piece, &InstructionWords::doubted_spin,
                          &InstructionWords::still_in_doubt, &InstructionWords::rule_and_place}) {
    CAPTURE(en.*text);
    CHECK(places(en.*text) == places(de.*text));
  }
  for (const TrialRule rule :
       {TrialRule::coefficient, TrialRule::support_load, TrialRule::limit, TrialRule::room, TrialRule::least_limit}) {
    CHECK_FALSE(de.of_rule(rule).empty());
    const std::string_view goes_on_from_it = en.of_rule(rule);
    CHECK((goes_on_from_it.starts_with("is ") || goes_on_from_it.starts_with("changes ") ||
           goes_on_from_it.starts_with("pulls ")));
  }
  for (const TrialPlace place : {TrialPlace::at_mark, TrialPlace::by_coefficients, TrialPlace::by_other_plane})
    CHECK_FALSE(de.of_place(place).empty());
}
