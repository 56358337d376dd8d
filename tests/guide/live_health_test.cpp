// A sensor whose cable goes off while the shaft turns, and quiet shafts whose cables do not. That an open input shows
// 1e-5 of full scale at most is the rule of a recorded spin (channel_watch.hpp: common practice, no source).
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <random>

#include "counterspot/guide/live_vectors.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/angle.hpp"
#include "support.hpp"
#include "tracking/memory_recording.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double rate_Hz = 5120.0;
constexpr double turns_Hz = 26.3;
constexpr double spin_s = 8.0;
constexpr double off_s = 4.0;  // where a cable goes off

const char* const two_sensors = R"([rig]
name = "Marrow Creek, bay 2"
rotation = "counter-clockwise"
viewing_end = "A"
[tach]
channel = 3
pulses_per_revolution = 1
edge = "rising"
full_scale = "10 V"
[[sensor]]
name = "A"
channel = 1
sensitivity = "100 mV/g"
full_scale = "10 V"
[[sensor]]
name = "B"
channel = 2
sensitivity = "100 mV/g"
full_scale = "10 V"
)";

/// What sensor A's channel shows, as a fraction of full scale.
using Signal = std::function<double(double at_s, double noise)>;

std::vector<LiveReading> followed(const Signal& of_a, double noise = 2e-5, double order_1 = 2e-3) {
  std::mt19937 chance(7);
  std::normal_distribution<double> normal;
  std::vector<std::vector<double>> channels(3);
  for (int n = 0; n < static_cast<int>(spin_s * rate_Hz); ++n) {
    const double at_s = n / rate_Hz;
    const double turns = turns_Hz * at_s;
    const double good = order_1 * std::cos(turn_rad * turns - 1.0);
    const double a = of_a ? of_a(at_s, normal(chance)) : good + noise * normal(chance);
    const double step = std::ldexp(1.0, -23);  // of a converter of 24 bits
    channels[0].push_back(step * std::round(a / step));
    channels[1].push_back(step * std::round((good + noise * normal(chance)) / step));
    channels[2].push_back(turns - std::floor(turns) < 0.05 ? 0.5 : 0.0);
  }
  const TemporaryFolder folder;
  const Rig rig = read_rig(write_file(folder / "rig.toml", two_sensors));
  MemoryRecording recording(rate_Hz, channels, true);
  ShaftWatch watch(recording.info(), rig);
  std::vector<LiveReading> readings;
  follow(recording, rig, watch, [&](const LiveReading& reading) {
    if (!reading.sensors.empty()) readings.push_back(reading);
  });
  return readings;
}

double good_part(double at_s, double noise) {
  return 2e-3 * std::cos(turn_rad * turns_Hz * at_s - 1.0) + 2e-5 * noise;
}

/// From `off_s` on: until when vectors were still shown, and from when it is said that A gives nothing.
struct Noticed {
  double shown_until_s = 0.0;
  double said_from_s = spin_s;
  bool said_code = false;
};
Noticed noticed(const std::vector<LiveReading>& readings, const std::string& code) {
  Noticed seen;
  LiveJob job;
  for (const LiveReading& reading : readings) {
    CHECK(reading.sensors[1].signal != LiveSignal::none);
    if (reading.newest_s < off_s) {
      CHECK(reading.sensors[0].signal != LiveSignal::none);
      continue;
    }
    if (!live_vectors(job, reading).empty()) seen.shown_until_s = reading.newest_s - off_s;
    if (reading.sensors[0].signal == LiveSignal::none && seen.said_from_s == spin_s)
      seen.said_from_s = reading.newest_s - off_s;
    for (const Warning& warning : reading.health)
      if (warning_code(warning.code) == code && warning.sensor == "A") seen.said_code = true;
  }
  return seen;
}

}  // namespace

TEST_CASE("a channel that goes dead in mid spin is said to give nothing within three turns, and nothing is shown") {
  const Noticed seen = noticed(
      followed([](double at_s, double noise) { return at_s < off_s ? good_part(at_s, noise) : 0.0; }), "dead_channel");
  std::printf("dead: shown for %.3f s, said after %.3f s\n", seen.shown_until_s, seen.said_from_s);
  CHECK(seen.shown_until_s < 0.15);
  CHECK(seen.said_from_s < 0.25);
  CHECK(seen.said_code);
}

TEST_CASE("an open input's noise or hum is shown no longer than two turns, and said once a stretch was looked at") {
  const double hum = GENERATE(0.0, 1e-4);
  const Noticed seen =
      noticed(followed([&](double at_s, double noise) {
                return at_s < off_s ? good_part(at_s, noise) : hum * std::cos(turn_rad * 50.0 * at_s) + 2e-6 * noise;
              }),
              "quiet_channel");
  std::printf("open input, hum %.0e: shown for %.3f s, said after %.3f s\n", hum, seen.shown_until_s, seen.said_from_s);
  CHECK(seen.shown_until_s < 0.2);
  CHECK(seen.said_from_s < 1.8);
  CHECK(seen.said_code);
}

TEST_CASE("a channel that is back is shown again") {
  const std::vector<LiveReading> readings = followed(
      [](double at_s, double noise) { return at_s < off_s || at_s > off_s + 1.0 ? good_part(at_s, noise) : 0.0; });
  CHECK(readings.back().sensors[0].signal == LiveSignal::good);
  CHECK_FALSE(live_vectors({}, readings.back()).empty());
}

TEST_CASE("a good quiet shaft raises no alarm: little order 1 in a rig's noise, or hardly any noise under it") {
  const auto [noise, order_1] = GENERATE(std::pair(5e-5, 1e-5), std::pair(1e-6, 1e-4), std::pair(2e-5, 0.0));
  for (const LiveReading& reading : followed(nullptr, noise, order_1)) {
    for (const LiveReading::Sensor& sensor : reading.sensors) CHECK(sensor.signal == LiveSignal::good);
    CHECK(reading.health.empty());
  }
}

TEST_CASE("a neighbour that beats with the shaft raises no alarm, and hides nothing unless it takes all of it") {
  const double neighbour = GENERATE(1.4e-3, 1.9e-3);
  for (const LiveReading& reading : followed([&](double at_s, double noise) {
         return good_part(at_s, noise) + neighbour * std::cos(turn_rad * 25.8 * at_s);
       })) {
    CHECK(reading.sensors[0].signal != LiveSignal::none);
    CHECK(reading.health.empty());
    if (neighbour < 1.5e-3) CHECK(reading.sensors[0].signal == LiveSignal::good);
  }
}
