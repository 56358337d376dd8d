// Why nobody is sent to the shaft, as the page says it: English as the watch says it, German of the same evidence.
#include <catch2/catch.hpp>

#include "console/page_words.hpp"

using namespace counterspot;

namespace {

std::string in_german(const MotionEvidence& evidence) {
  const ShaftMotion motion = motion_of(evidence);
  CHECK(page_words_in("en").motion(motion) == motion.words);
  return page_words_in("de").motion(motion);
}

}  // namespace

TEST_CASE("auf Deutsch: warum die Welle sich vielleicht dreht, und wann sie steht") {
  using Tach = MotionEvidence::Tach;
  using Sensors = MotionEvidence::Sensors;
  MotionEvidence seen{.no_pulse_s = 4.2, .sensor = "B"};
  CHECK(in_german(seen) == "die Welle dreht sich vielleicht: seit 4 von 10 s kein Impuls");
  seen.no_pulse_s = 11.0;
  CHECK(in_german(seen) == "die Welle dreht sich vielleicht: vom Drehzahlgeber kam noch kein Impuls");
  seen.tach = Tach::stopped;
  CHECK(in_german(seen) ==
        "die Welle dreht sich vielleicht: die Anzeige der Aufnehmer im Stillstand ist nicht bekannt");
  seen.as_when_turning = true;  // nobody is let say that it stands, so the way out is told
  CHECK(in_german(seen).ends_with(
      "Wer sieht, dass sie steht: Antrieb gegen Einschalten sichern, Programm beenden und neu starten"));
  CHECK_FALSE(motion_of(seen).may_be_confirmed);
  seen.as_when_turning = false;
  seen.sensors = Sensors::vibrating;
  CHECK(in_german(seen) == "die Welle dreht sich vielleicht: Aufnehmer B zeigt mehr an als im Stillstand");
  seen.sensors = Sensors::gone;
  CHECK(in_german(seen) == "die Welle dreht sich vielleicht: Aufnehmer B zeigt viel weniger an als im Stillstand");
  seen.sensors = Sensors::no_signal;
  CHECK(in_german(seen) == "die Welle dreht sich vielleicht: Aufnehmer B hat kein Signal");
  seen.sensors = Sensors::at_rest;
  CHECK(in_german(seen) == "steht still");
  seen.tach = Tach::lost;
  CHECK(in_german(seen) == "der Drehzahlgeber ist ausgefallen, die Welle dreht sich vielleicht");
  seen.last_speed_rad_s = rad_per_s(1500.0);
  CHECK(in_german(seen) ==
        "der Drehzahlgeber ist ausgefallen, zuletzt bei 1500 min⁻¹: die Welle dreht sich vielleicht");
  seen.tach = Tach::pulsing;
  CHECK(in_german(seen) == "dreht sich");
}
