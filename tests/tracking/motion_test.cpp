#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <vector>

#include "counterspot/tracking/live_tracking.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "tracking/memory_recording.hpp"

namespace counterspot::test {

namespace {

using Tach = MotionEvidence::Tach;
using Sensors = MotionEvidence::Sensors;

MotionEvidence standing_evidence() {
  MotionEvidence evidence;
  evidence.tach = Tach::stopped;
  evidence.sensors = Sensors::at_rest;
  evidence.no_pulse_s = slowest_pulse_s;
  return evidence;
}

/// A stretch of a simulated spin on the demonstration's rig, and what is done to its tach.
struct Watched {
  rigsim::SpeedPlan speed;
  double seconds = 20.0;
  double tach_lost_s = 1e9;
  std::vector<double> confirmed_s;  ///< when somebody says that the shaft stands
  std::uint64_t seed = 1;
  rigsim::Scenario scenario = rigsim::marrow_creek();
};

constexpr double rest_rad_s = 0.02;  // the simulation's shaft never quite stops

rigsim::SpeedPlan from_rest(double rest_s, double rpm_wanted, double run_up_s) {
  rigsim::SpeedPlan plan;
  plan.start_rad_s = rest_rad_s;
  plan.start_angle_rad = 1.0;
  plan.stretches = {{rest_s, rest_rad_s}, {run_up_s, rad_per_s(rpm_wanted)}};
  return plan;
}

struct Moment {
  double at_s;
  LiveReading reading;
  double true_rad_s;
  double turned_in_10_s_rad;  ///< up to a fifth of a second ago
};

Rig rig_of(const rigsim::Scenario& scenario) {
  Rig rig;
  for (std::size_t s = 0; s < scenario.rig.sensors.size(); ++s) {
    Sensor sensor;
    sensor.name = scenario.rig.sensors[s].name;
    sensor.channel = static_cast<int>(s + 1);
    rig.sensors.push_back(sensor);
  }
  rig.tach.channel = static_cast<int>(scenario.rig.sensors.size() + 1);
  rig.tach.pulses_per_revolution = scenario.rig.tach.pulses_per_revolution;
  return rig;
}

/// Gives the samples as a live source does, 20 ms at a time.
class InBlocks final : public Recording {
 public:
  explicit InBlocks(MemoryRecording& inner) : inner_(inner) {}
  const RecordingInfo& info() const override { return inner_.info(); }
  std::size_t read(std::span<double> interleaved) override {
    const auto frames = static_cast<std::size_t>(0.02 * info().sample_rate_Hz);
    return inner_.read(interleaved.first(std::min(interleaved.size(), frames * info().channels.size())));
  }

 private:
  MemoryRecording& inner_;
};

std::vector<Moment> watched(const Watched& asked) {
  rigsim::SpinTruth spin;
  spin.speed = asked.speed;
  spin.duration_s = asked.seconds;
  spin.seed = asked.seed;
  rigsim::Recorded recorded = simulate(asked.scenario.rig, asked.scenario.shaft, spin);
  std::vector<double>& tach = recorded.channels.back().volts;
  const auto lost = static_cast<std::size_t>(std::min(asked.tach_lost_s * recorded.sample_rate_Hz, 1e15));
  for (std::size_t n = lost; n < tach.size(); ++n) tach[n] = asked.scenario.rig.tach.low_V;
  std::vector<std::vector<double>> channels;
  for (const rigsim::RecordedChannel& channel : recorded.channels) channels.push_back(channel.volts);
  MemoryRecording memory(recorded.sample_rate_Hz, channels);
  InBlocks recording(memory);
  const Rig rig = rig_of(asked.scenario);
  ShaftWatch watch(recording.info(), rig);
  const rigsim::SpeedCurve truth(asked.speed);
  std::vector<Moment> moments;
  std::size_t said = 0;
  follow(recording, rig, watch, [&](const LiveReading& reading) {
    if (said < asked.confirmed_s.size() && reading.newest_s >= asked.confirmed_s[said] && watch.confirm_standing())
      ++said;
    const double now_s = reading.newest_s;
    const double turned_rad =
        truth.at(std::max(0.0, now_s - 0.2)).angle_rad - truth.at(std::max(0.0, now_s - 10.0)).angle_rad;
    moments.push_back({now_s, reading, truth.at(now_s).speed_rad_s, turned_rad});
  });
  REQUIRE(static_cast<double>(moments.size()) > 5.0 * asked.seconds);
  return moments;
}

bool says(const Moment& moment, Turning turning) {
  return moment.reading.motion.turning == turning;
}

std::vector<Moment> between(const std::vector<Moment>& moments, double from_s, double to_s) {
  std::vector<Moment> part;
  std::copy_if(moments.begin(), moments.end(), std::back_inserter(part),
               [&](const Moment& moment) { return moment.at_s >= from_s && moment.at_s <= to_s; });
  REQUIRE(!part.empty());
  return part;
}

/// Standing may be said of a shaft that has not yet made a turn in as long as the slowest turning takes for one: no
/// tach can know better. A pulse ends it as soon as it begins.
bool never_standing_while_it_turns(const std::vector<Moment>& moments) {
  const auto wrong = std::find_if(moments.begin(), moments.end(), [](const Moment& moment) {
    return says(moment, Turning::standing) && moment.turned_in_10_s_rad > turn_rad;
  });
  if (wrong != moments.end())
    WARN("standing at " << wrong->at_s << " s, " << rpm(wrong->true_rad_s) << " rpm, " << wrong->turned_in_10_s_rad
                        << " rad");
  return wrong == moments.end();
}

}  // namespace

TEST_CASE("standing is said only of a tach that saw the shaft stop, ten silent seconds, and sensors at rest",
          "[rule]") {
  REQUIRE(motion_of(standing_evidence()).turning == Turning::standing);
  for (const Tach tach : {Tach::silent, Tach::pulsing, Tach::lost}) {
    MotionEvidence evidence = standing_evidence();
    evidence.tach = tach;
    CHECK(motion_of(evidence).turning != Turning::standing);
  }
  for (const Sensors sensors : {Sensors::unlearned, Sensors::vibrating, Sensors::gone, Sensors::no_signal}) {
    MotionEvidence evidence = standing_evidence();
    evidence.sensors = sensors;
    CHECK(motion_of(evidence).turning == Turning::unknown);
  }
  MotionEvidence early = standing_evidence();
  early.no_pulse_s = 0.99 * slowest_pulse_s;
  CHECK(motion_of(early).turning == Turning::unknown);
  CHECK(MotionEvidence{}.tach == Tach::silent);
  CHECK(motion_of({}).turning == Turning::unknown);
}

TEST_CASE("whatever is not standing or turning says that the shaft may be turning", "[rule]") {
  for (const Tach tach : {Tach::silent, Tach::stopped, Tach::lost}) {
    for (const Sensors sensors :
         {Sensors::unlearned, Sensors::at_rest, Sensors::vibrating, Sensors::gone, Sensors::no_signal}) {
      for (const double no_pulse_s : {1.0, 11.0}) {
        MotionEvidence evidence;
        evidence.tach = tach;
        evidence.sensors = sensors;
        evidence.no_pulse_s = no_pulse_s;
        const ShaftMotion motion = motion_of(evidence);
        if (motion.turning == Turning::standing) continue;
        CHECK(motion.words.find("may be turning") != std::string::npos);
      }
    }
  }
}

TEST_CASE("nobody's word makes a shaft stand that pulses, or shakes the rig as it did while it turned", "[rule]") {
  MotionEvidence evidence = standing_evidence();
  evidence.sensors = Sensors::unlearned;
  CHECK(motion_of(evidence).may_be_confirmed);
  evidence.no_pulse_s = 3.0;
  CHECK_FALSE(motion_of(evidence).may_be_confirmed);
  evidence = standing_evidence();
  evidence.tach = Tach::lost;
  CHECK(motion_of(evidence).may_be_confirmed);
  evidence.as_when_turning = true;  // and at rest: so slowly that it shook nothing
  CHECK(motion_of(evidence).may_be_confirmed);
  for (const Sensors sensors : {Sensors::unlearned, Sensors::vibrating}) {
    evidence.sensors = sensors;
    CHECK_FALSE(motion_of(evidence).may_be_confirmed);
  }
}

TEST_CASE("a shaft that turns at 60 to 1000 rpm is never said to stand, and its speed is right", "[long]") {
  for (const double wanted_rpm : {60.0, 75.0, 100.0, 150.0, 200.0, 250.0, 300.0, 600.0, 1000.0}) {
    Watched asked;
    asked.speed.start_rad_s = rad_per_s(wanted_rpm);
    asked.seed = static_cast<std::uint64_t>(wanted_rpm);
    asked.seconds = 12.0;
    const auto moments = watched(asked);
    INFO(wanted_rpm);
    CHECK(never_standing_while_it_turns(moments));
    // Two turns and half a second are needed to see the first pulses.
    for (const Moment& moment : between(moments, 1.0 + 2.0 * 60.0 / wanted_rpm, asked.seconds)) {
      CHECK(says(moment, Turning::turning));
      CHECK(moment.reading.speed_rad_s == Approx(moment.true_rad_s).epsilon(0.005));
    }
  }
}

TEST_CASE("a run-up is followed from its first turns, and a stop to its last", "[long]") {
  for (const double run_up_s : {3.0, 8.0, 30.0}) {
    Watched asked;
    asked.speed = from_rest(14.0, 1620.0, run_up_s);
    asked.speed.stretches.push_back({4.0, rad_per_s(1620.0)});
    asked.speed.stretches.push_back({run_up_s, rest_rad_s});
    asked.seconds = 18.0 + 2.0 * run_up_s + 14.0;
    asked.confirmed_s = {12.0};
    asked.seed = static_cast<std::uint64_t>(run_up_s);
    const auto moments = watched(asked);
    INFO("run-up in " << run_up_s << " s");
    CHECK(never_standing_while_it_turns(moments));
    CHECK(says(between(moments, 13.5, 14.0).back(), Turning::standing));
    // By a turn that ended when it ended: it is late by half a turn and what comes after it, at most a turn and a half.
    for (const Moment& moment : moments) {
      if (moment.turned_in_10_s_rad < 2.5 * turn_rad || moment.true_rad_s < rad_per_s(60.0)) continue;
      const double late_s = 0.15 + 3.0 * turn_rad / moment.true_rad_s;
      const double change_rad_s = rad_per_s(1620.0) / run_up_s * late_s;
      INFO(moment.at_s << " s, " << rpm(moment.true_rad_s) << " rpm, shown " << rpm(moment.reading.speed_rad_s));
      CHECK(says(moment, Turning::turning));
      CHECK(std::abs(moment.reading.speed_rad_s - moment.true_rad_s) < change_rad_s + 0.005 * moment.true_rad_s);
    }
    CHECK(says(moments.back(), Turning::standing));
  }
}

TEST_CASE("a tach that fails while the shaft turns is lost, and standing is not said until somebody sees it",
          "[long]") {
  for (const double at_rpm : {60.0, 100.0, 250.0, 700.0, 1620.0}) {
    Watched asked;
    asked.speed = from_rest(13.0, at_rpm, 4.0);
    asked.speed.stretches.push_back({12.0, rad_per_s(at_rpm)});
    asked.speed.stretches.push_back({10.0, rest_rad_s});
    asked.tach_lost_s = 22.0;
    asked.confirmed_s = {12.0};
    asked.seconds = 65.0;
    asked.seed = static_cast<std::uint64_t>(at_rpm);
    const auto moments = watched(asked);
    INFO(at_rpm << " rpm");
    CHECK(never_standing_while_it_turns(moments));
    const double patience_s = std::max(0.5, 3.0 * 60.0 / at_rpm) + 60.0 / at_rpm + 0.3;
    for (const Moment& moment : between(moments, asked.tach_lost_s + patience_s, asked.seconds)) {
      CHECK(says(moment, Turning::unknown));
      CHECK(moment.reading.motion.tach_lost);
      CHECK(moment.reading.motion.words.find("tach is lost") != std::string::npos);
    }
    CHECK(moments.back().reading.motion.may_be_confirmed);
    asked.confirmed_s = {12.0, 55.0};
    CHECK(says(watched(asked).back(), Turning::standing));
  }
}

TEST_CASE("a drive that starts with a dead tach is seen by the sensors, and a word said then is not taken", "[long]") {
  Watched asked;
  asked.speed = from_rest(14.0, 1620.0, 5.0);
  asked.speed.stretches = {{16.0, rest_rad_s}, {5.0, rad_per_s(1620.0)}};
  asked.speed.start_angle_rad = 4.0;  // the mark away from the tach, whose end nothing shows
  asked.tach_lost_s = 13.0;
  asked.confirmed_s = {12.0};
  asked.seconds = 40.0;
  const auto moments = watched(asked);
  CHECK(says(between(moments, 14.0, 16.0).back(), Turning::standing));
  for (const Moment& moment : between(moments, 21.0, 40.0)) CHECK(says(moment, Turning::unknown));
  INFO(moments.back().reading.motion.words);
  CHECK(moments.back().reading.motion.words.find("more than at rest") != std::string::npos);
}

TEST_CASE("without anybody's word standing is never said", "[long]") {
  Watched asked;
  asked.speed = from_rest(1.0, 1620.0, 3.0);
  asked.speed.stretches.push_back({4.0, rad_per_s(1620.0)});
  asked.speed.stretches.push_back({3.0, rest_rad_s});
  asked.seconds = 40.0;
  const auto moments = watched(asked);
  CHECK(std::none_of(moments.begin(), moments.end(), [](const Moment& each) { return says(each, Turning::standing); }));
  CHECK(moments.back().reading.motion.may_be_confirmed);
}

TEST_CASE("rigs and shafts of all kinds that stand are said to stand: spins with a sound tach", "[long]") {
  int said = 0;
  constexpr int count = 20;
  for (int i = 0; i < count; ++i) {
    Watched asked;
    asked.scenario = rigsim::random_scenario(static_cast<std::uint64_t>(900 + i), 3.0);
    asked.seed = static_cast<std::uint64_t>(i);
    asked.speed = from_rest(13.0, rpm(asked.scenario.balancing_rad_s), 2.0 + i);
    asked.speed.stretches.push_back({3.0, asked.scenario.balancing_rad_s});
    asked.speed.stretches.push_back({1.0 + 1.5 * i, rest_rad_s});
    asked.confirmed_s = {12.0};
    asked.seconds = 13.0 + 2.0 + i + 3.0 + 1.0 + 1.5 * i + 18.0;
    const auto moments = watched(asked);
    INFO(i);
    CHECK(never_standing_while_it_turns(moments));
    CHECK_FALSE(
        std::any_of(moments.begin(), moments.end(), [](const Moment& each) { return each.reading.motion.tach_lost; }));
    said += says(moments.back(), Turning::standing) ? 1 : 0;
  }
  CHECK(said == count);
}

}  // namespace counterspot::test
