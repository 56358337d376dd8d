#include "counterspot/rig_setup/setup.hpp"

namespace counterspot {

namespace {

Said isolated() {
  return said(
      {"Hands go to the shaft and the pedestals only while the drive is isolated: switched off, locked, and "
       "tried.",
       "An Welle und Lagerböcke nur greifen, während der Antrieb freigeschaltet ist: abgeschaltet, gesperrt und "
       "erprobt."});
}

Said turning() {
  return said(
      {"Guard closed, nobody in the plane of rotation, speed under the safe limit, weights secured against their "
       "pull. To fit or remove a weight: drive isolated, and the shaft seen to stand.",
       "Schutzhaube zu, niemand in der Drehebene, Drehzahl unter der sicheren Grenze, Gewichte gegen die "
       "Fliehkraft gesichert. Gewichte nur anbringen oder abnehmen, wenn der Antrieb freigeschaltet ist und die "
       "Welle zu sehen steht."});
}

Said no_shaft() {
  return said({"No shaft on: take it off if there is one.", "Ohne Welle: herausnehmen, wenn eine drin ist."});
}

SetupInstruction knocks_at(char end) {
  return {no_shaft(),
          said({"Knock three times on pedestal {}, two seconds apart, with a light hammer: on the side away from its "
                "sensor, so that each knock pushes towards the sensor.",
                "Dreimal an Lagerbock {} klopfen, im Abstand von zwei Sekunden, mit einem leichten Hammer: auf der vom "
                "Aufnehmer abgewandten Seite, sodass jeder Schlag auf den Aufnehmer zu drückt."},
               end),
          {},
          isolated(),
          false,
          20.0};
}

SetupInstruction weight_at(char end) {
  return {said({"Fit the known weight at the mark (12:00) at end {}, nothing else.",
                "Das bekannte Gewicht an der Marke (12:00) am Ende {} anbringen, sonst nichts."},
               end),
          said({"Spin at the speed you balance at, the same for all four spins, and record ten seconds.",
                "Mit der Auswuchtdrehzahl laufen lassen, bei allen vier Messläufen derselben, und zehn Sekunden "
                "aufnehmen."}),
          said({"Say what it weighs and its radius: --weight \"15 g\" --radius \"39 mm\".",
                "Sagen, was es wiegt und auf welchem Radius es sitzt: --weight \"15 g\" --radius \"39 mm\"."}),
          turning(),
          true,
          10.0};
}

SetupInstruction on_shaker(char end) {
  return {said({"Take sensor {} off its pedestal and put it on a hand-held shaker that gives 10 m/s2 rms at 159.2 Hz "
                "(1000 rad/s), tight and upright; its cable stays as it is.",
                "Aufnehmer {} vom Lagerbock nehmen und auf einen Handschwinger setzen, der 10 m/s2 effektiv bei "
                "159,2 Hz (1000 rad/s) gibt, fest und gerade; sein Kabel bleibt, wie es ist."},
               end),
          said({"Start the shaker and record ten seconds; then put the sensor back where it was.",
                "Den Schwinger einschalten und zehn Sekunden aufnehmen; dann den Aufnehmer wieder an seinen Platz "
                "setzen."}),
          {},
          isolated(),
          false,
          10.0};
}

}  // namespace

SetupInstruction instruction_of(SetupStep step, const SetupTold& told) {
  switch (step) {
    case SetupStep::rest:
      return {no_shaft(),
              said({"Leave the drive off. Record ten seconds, and touch nothing.",
                    "Den Antrieb aus lassen. Zehn Sekunden aufnehmen und nichts berühren."}),
              {},
              isolated(),
              false,
              10.0};
    case SetupStep::running:
      return {{},
              said({"No shaft on. Run the drive at the speed you balance at, and record ten seconds.",
                    "Ohne Welle. Den Antrieb mit der Auswuchtdrehzahl laufen lassen und zehn Sekunden aufnehmen."}),
              {},
              turning(),
              true,
              10.0};
    case SetupStep::knocks_a: return knocks_at('A');
    case SetupStep::knocks_b: return knocks_at('B');
    case SetupStep::hand_turn:
      return {said({"Put a shaft on, its mark half a turn away from the tach.",
                    "Eine Welle einsetzen, ihre Marke eine halbe Umdrehung vom Drehzahlgeber entfernt."}),
              said({"Record while you turn it by hand exactly {} times, without a stop, in the direction in which the "
                    "drive turns it.",
                    "Aufnehmen, während sie von Hand genau {}-mal gedreht wird, ohne Halt, in der Richtung, in der der "
                    "Antrieb sie dreht."},
                   hand_turns_asked),
              {},
              isolated(),
              false,
              30.0};
    case SetupStep::slow_run:
      return {
          {},
          said({"Run the shaft slowly and evenly, about 300 rpm, and record fifteen seconds.",
                "Die Welle langsam und gleichmäßig laufen lassen, etwa 300 min⁻¹, und fünfzehn Sekunden aufnehmen."}),
          {},
          turning(),
          true,
          15.0};
    case SetupStep::direction:
      return {
          {},
          said({"Stand at end A, outside the guard, and look along the shaft towards B while it runs slowly. Does its "
                "top go to your left or to your right?",
                "An Ende A stehen, außerhalb der Schutzhaube, und die Welle entlang nach B schauen, während sie "
                "langsam läuft. Geht ihre Oberseite nach links oder nach rechts?"}),
          said({"Say --top left or --top right; --viewing-end B if the clock will be read from end B.",
                "--top left (links) oder --top right (rechts) sagen; --viewing-end B, wenn die Uhr von Ende B gelesen "
                "wird."}),
          turning(),
          true,
          0.0};
    case SetupStep::bare:
      return {{},
              said({"Spin the shaft without added weights at the speed you balance at, and record ten seconds.",
                    "Die Welle ohne angebrachte Gewichte mit der Auswuchtdrehzahl laufen lassen und zehn Sekunden "
                    "aufnehmen."}),
              {},
              turning(),
              true,
              10.0};
    case SetupStep::at_a: return weight_at('A');
    case SetupStep::at_b: {
      SetupInstruction weight = weight_at('B');
      weight.typed = {};
      return weight;
    }
    case SetupStep::known: {
      SetupInstruction weight = weight_at('A');
      weight.by_hand =
          said({"Move the same weight to end A at 3:00, as seen from end {}, the mark at 12:00; nothing else.",
                "Dasselbe Gewicht an Ende A auf 3:00 setzen, von Ende {} gesehen, die Marke auf 12:00; sonst "
                "nichts."},
               told.viewing_end);
      weight.typed = {};
      return weight;
    }
    case SetupStep::shaker_a: return on_shaker('A');
    case SetupStep::shaker_b: return on_shaker('B');
    case SetupStep::sweep:
      return {{},
              said({"With a shaft on, without added weights: bring it to the highest speed you balance at, begin to "
                    "record, and let it coast down to rest.",
                    "Mit einer Welle ohne angebrachte Gewichte: auf die höchste Drehzahl bringen, bei der ausgewuchtet "
                    "wird, die Aufnahme beginnen und die Welle auslaufen lassen."}),
              said({"Say how long it takes: --seconds \"60 s\".", "Sagen, wie lange das dauert: --seconds \"60 s\"."}),
              turning(),
              true,
              60.0};
  }
  return {};
}

Said setup_step_title(SetupStep step) {
  switch (step) {
    case SetupStep::rest: return said({"At rest", "In Ruhe"});
    case SetupStep::running: return said({"Drive on, no shaft", "Antrieb an, ohne Welle"});
    case SetupStep::knocks_a: return said({"Knocks at A", "Schläge an A"});
    case SetupStep::knocks_b: return said({"Knocks at B", "Schläge an B"});
    case SetupStep::hand_turn: return said({"Turn by hand", "Von Hand drehen"});
    case SetupStep::slow_run: return said({"Slow run", "Langsamer Lauf"});
    case SetupStep::direction: return said({"Which way it turns", "Wie herum sie dreht"});
    case SetupStep::bare: return said({"Proof: bare shaft", "Beweis: Welle ohne Gewicht"});
    case SetupStep::at_a: return said({"Proof: weight at A", "Beweis: Gewicht an A"});
    case SetupStep::at_b: return said({"Proof: weight at B", "Beweis: Gewicht an B"});
    case SetupStep::known: return said({"Proof: weight at 3:00", "Beweis: Gewicht auf 3:00"});
    case SetupStep::shaker_a: return said({"Sensor A on a shaker", "Aufnehmer A auf dem Schwinger"});
    case SetupStep::shaker_b: return said({"Sensor B on a shaker", "Aufnehmer B auf dem Schwinger"});
    case SetupStep::sweep: return said({"Coast-down", "Auslauf"});
  }
  return {};
}

}  // namespace counterspot
