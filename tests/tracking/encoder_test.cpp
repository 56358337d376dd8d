// The direction of rotation, by the two channels of an encoder.
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"
#include "tracking/synthetic_spin.hpp"

using namespace counterspot;
using Catch::Contains;
using counterspot::test::MemoryRecording;
using counterspot::test::SyntheticSpin;

namespace {

constexpr int pulses = 32;

/// The sensor, the index, A and B; B comes a quarter of a pulse behind A, or before it.
MemoryRecording encoder_recording(const SyntheticSpin& spin, bool a_leads) {
  auto channels = spin.channels();
  std::vector<double> a;
  std::vector<double> b;
  for (std::size_t i = 0; i < spin.frames(); ++i) {
    const double at = pulses * spin.turns_at(static_cast<double>(i) / spin.rate_Hz);
    const double behind = a_leads ? at - 0.25 : at + 0.25;
    a.push_back(at - std::floor(at) < 0.5 ? 5.0 : 0.0);
    b.push_back(behind - std::floor(behind) < 0.5 ? 5.0 : 0.0);
  }
  channels.push_back(a);
  channels.push_back(b);
  return {spin.rate_Hz, channels};
}

Rig encoder_rig(const SyntheticSpin& spin, Rotation rotation, int stated = pulses) {
  Rig rig = spin.rig();
  rig.rotation = rotation;
  rig.tach.encoder = EncoderPair{3, 4, Rotation::clockwise, stated};
  return rig;
}

std::string code_of_spin(const SyntheticSpin& spin, bool a_leads, const Rig& rig) {
  MemoryRecording recording = encoder_recording(spin, a_leads);
  try {
    track(recording, rig);
  } catch (const Error& error) {
    return error.code();
  }
  return "";
}

}  // namespace

TEST_CASE("a spin against the rig file's direction is refused, by which channel of the encoder leads") {
  SyntheticSpin spin;
  spin.rate_Hz = 10000.0;
  spin.seconds = 2.0;
  CHECK(code_of_spin(spin, true, encoder_rig(spin, Rotation::clockwise)).empty());
  CHECK(code_of_spin(spin, true, encoder_rig(spin, Rotation::counter_clockwise)) == "wrong_direction");
  CHECK(code_of_spin(spin, false, encoder_rig(spin, Rotation::counter_clockwise)).empty());
  CHECK(code_of_spin(spin, false, encoder_rig(spin, Rotation::clockwise)) == "wrong_direction");
}

TEST_CASE("the index of an encoder is the mark: the vector is that of one mark a turn") {
  SyntheticSpin spin;
  spin.rate_Hz = 10000.0;
  spin.seconds = 2.0;
  MemoryRecording recording = encoder_recording(spin, true);
  const Track measured = track(recording, encoder_rig(spin, Rotation::clockwise));
  CHECK(measured.sensors[0].orders[0].amplitude() == Approx(1.0).margin(1e-6));
  CHECK(measured.sensors[0].orders[0].phase_lag_deg() == Approx(50.0).margin(1e-4));
}

TEST_CASE("pulses too fast for the recording, or other than stated, refuse no direction") {
  SyntheticSpin slow_recorder;
  slow_recorder.rate_Hz = 1500.0;  // 1.9 samples to a pulse, which then seem to run backwards
  CHECK(code_of_spin(slow_recorder, true, encoder_rig(slow_recorder, Rotation::clockwise)).empty());
  CHECK(code_of_spin(slow_recorder, true, encoder_rig(slow_recorder, Rotation::counter_clockwise)).empty());
  SyntheticSpin spin;
  spin.rate_Hz = 10000.0;
  spin.seconds = 2.0;
  CHECK(code_of_spin(spin, true, encoder_rig(spin, Rotation::counter_clockwise, 40)).empty());
}

TEST_CASE("what the pulses of an encoder do not tell is said once, with what would mend it") {
  SyntheticSpin spin;
  spin.rate_Hz = 10000.0;
  spin.seconds = 2.0;
  const auto doubt = [](MemoryRecording recording, const Rig& rig) {
    Warnings doubts;
    for (const Warning& warning : track(recording, rig).warnings)
      if (warning.code == WarningCode::direction_unknown) doubts.push_back(warning);
    REQUIRE(doubts.size() <= 1);
    return doubts.empty() ? Warning{} : doubts[0];
  };
  CHECK(doubt(encoder_recording(spin, true), encoder_rig(spin, Rotation::clockwise)).message.empty());

  const Warning other = doubt(encoder_recording(spin, true), encoder_rig(spin, Rotation::clockwise, 40));
  CHECK_THAT(other.message, Contains("show 32 pulses a turn") && Contains("the rig file says 40"));
  CHECK_THAT(other.remedy, Contains("pulses_per_revolution"));

  SyntheticSpin slow_recorder = spin;
  slow_recorder.rate_Hz = 1500.0;
  const Warning fast = doubt(encoder_recording(slow_recorder, true), encoder_rig(slow_recorder, Rotation::clockwise));
  CHECK_THAT(fast.message, Contains("a pulse of the encoder has 1.9 samples"));  // 1500 Hz over 25 turns of 32 pulses
  CHECK(fast.remedy == "record at 4800 Hz or more, or spin more slowly");

  Rig alike = encoder_rig(spin, Rotation::clockwise);
  alike.tach.encoder->b = alike.tach.encoder->a;  // the cable of A at both inputs
  CHECK_THAT(doubt(encoder_recording(spin, true), alike).message, Contains("show 0 pulses a turn"));
}

TEST_CASE("an encoder without its index gives no phase, and is told to have it recorded") {
  SyntheticSpin spin;
  spin.rate_Hz = 10000.0;
  spin.seconds = 2.0;
  Rig rig = encoder_rig(spin, Rotation::clockwise);
  rig.tach.channel = 3;  // A
  rig.tach.pulses_per_revolution = pulses;
  MemoryRecording recording = encoder_recording(spin, true);
  try {
    track(recording, rig);
    FAIL("it was tracked");
  } catch (const Error& error) {
    CHECK(error.code() == "no_identifiable_pulse");
    CHECK_THAT(error.what(), Contains("nor is the direction looked at"));
    CHECK_THAT(error.remedy(), Contains("index_channel"));
  }
}
