#pragma once

#include <cmath>
#include <set>

#include "counterspot/files/files.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"
#include "tracking/memory_recording.hpp"

namespace counterspot::test {

inline constexpr double sample_rate_Hz = 2560.0;  // ample for order 1; at half of it the tach's edges lie a degree off
inline constexpr double spin_s = 3.0;

/// The demonstration's rig on a calm floor, with noise of its own for every seed.
inline rigsim::Scenario calm_rig(std::uint64_t seed) {
  rigsim::Random random(seed, 50);
  rigsim::Scenario scenario = rigsim::marrow_creek();
  rigsim::RigTruth& rig = scenario.rig;
  rig.recorder.sample_rate_Hz = sample_rate_Hz;
  rig.neighbours.clear();
  rig.tach.jitter_s = random.uniform(1e-6, 20e-6);
  rig.tach.noise_V = random.uniform(0.0, 0.1);
  rig.tach.width_rad = 0.3;
  for (rigsim::SensorTruth& sensor : rig.sensors) {
    sensor.hum_V = 0.0;
    sensor.noise_si_rtHz = std::exp(random.uniform(std::log(3e-4), std::log(1e-2)));
    sensor.pink_si = random.uniform(0.0, 0.03);
  }
  for (rigsim::Phasor& joint : scenario.shaft.joints)
    joint = std::polar(random.uniform(0.0, 60e-6), random.direction_rad());
  return scenario;
}

struct Measured {
  explicit Measured(const rigsim::Scenario& scenario) {
    const TemporaryFolder folder;
    rig = read_rig(write_file(folder / "rig.toml", rigsim::rig_toml(scenario)));
  }
  Rig rig;

  Track operator()(const rigsim::Recorded& recorded) const {
    std::vector<std::vector<double>> channels;
    for (const auto& channel : recorded.channels) {
      channels.push_back(channel.volts);
      for (double& v : channels.back()) v /= recorded.full_scale_V;
    }
    MemoryRecording recording(recorded.sample_rate_Hz, channels, true);
    TrackOptions options;
    options.orders = {1.0, 2.0};
    return track(recording, rig, options);
  }
};

inline std::set<std::string> codes_of(const Warnings& warnings) {
  std::set<std::string> codes;
  for (const Warning& warning : warnings) codes.insert(warning_code(warning.code));
  return codes;
}

}  // namespace counterspot::test
