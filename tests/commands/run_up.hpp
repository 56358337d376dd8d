#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <string>

#include "support.hpp"

namespace counterspot::test {

constexpr double full_turn_rad = 6.283185307179586;

/// A run-up from 600 to 1200 rpm, with a tach.
struct RunUp {
  double seconds = 20.0;
  /// What sensor A shows, m/s²: 2 of order 1 and 0.5 of order 2.
  std::function<double(double time_s, double turns)> shows = [](double /*time_s*/, double turns) {
    return 2.0 * std::cos(full_turn_rad * turns) + 0.5 * std::cos(2.0 * full_turn_rad * turns - 1.0);
  };
};

/// `run-up.csv`, and the `rig.toml` of it.
inline void write_run_up(const TemporaryFolder& folder, const RunUp& run_up = {}) {
  constexpr double rate_Hz = 500.0;
  std::string csv = "time (s),accel (m/s2),tach (V)\n";
  for (int n = 0; n < run_up.seconds * rate_Hz; ++n) {
    const double t = n / rate_Hz;
    const double turns = 0.4 + 10.0 * t + 5.0 / run_up.seconds * t * t;
    const double place = turns - std::floor(turns);
    csv += std::to_string(t) + "," + std::to_string(run_up.shows(t, turns)) + "," +
           std::to_string(5.0 * std::clamp((place < 0.5 ? 0.2 - place : place - 0.9) * 30.0 + 0.5, 0.0, 1.0)) + "\n";
  }
  write_file(folder / "run-up.csv", csv);
  write_file(folder / "rig.toml",
             "[rig]\nname = \"bay 2\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n"
             "[tach]\nchannel = \"tach\"\n[[sensor]]\nname = \"A\"\nchannel = \"accel\"\nsensitivity = \"100 mV/g\"\n");
}

}  // namespace counterspot::test
