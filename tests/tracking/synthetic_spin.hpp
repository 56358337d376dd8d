#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <vector>

#include "counterspot/model/rig.hpp"
#include "counterspot/units/angle.hpp"
#include "tracking/memory_recording.hpp"

namespace counterspot::test {

/// One order of a sensor's signal: A cos(kθ − φ).
struct Line {
  int order = 1;
  double amplitude = 1.0;
  double lag_deg = 0.0;
};

/// A spin written down, not simulated: the shaft angle is f·t + a·t²/2, pulses are trapezoids, sensors are sums of
/// cosines of the true angle and noise. Volts, one volt a unit.
struct SyntheticSpin {
  double rate_Hz = 4000.0;
  double seconds = 4.0;
  double speed_Hz = 25.0;
  double acceleration_Hz_per_s = 0.0;
  double first_turn = 0.37;  ///< angle of the shaft at the start, turns before the first edge = 1 − this
  std::vector<double> pulse_positions_turn = {0.0};  ///< pulses of a turn
  std::vector<double> pulse_widths_turn = {0.05};
  double pulse_height_V = 5.0;
  double rise_frames = 3.0;
  bool pulses_down = false;                   ///< the signal falls at the edge
  std::vector<int> lost;                      ///< numbers of pulses that are missing, from 0
  std::vector<std::pair<int, double>> extra;  ///< pulse number and how many turns after it an extra pulse comes
  double tach_noise_V = 0.0;
  double edge_jitter_frames = 0.0;
  double sample_jitter_frames = 0.0;  ///< standard deviation of when samples are taken about even times
  std::vector<std::vector<Line>> sensors = {{{1, 1.0, 50.0}}};
  double dc_V = 0.3;
  double noise_V = 0.0;
  unsigned seed = 1;
  std::function<double(double, std::size_t)> disturbance;  ///< of time in s and sensor

  double turns_at(double time_s) const {
    return first_turn + speed_Hz * time_s + 0.5 * acceleration_Hz_per_s * time_s * time_s;
  }

  double time_at(double turns) const {
    const double rest = turns - first_turn;
    if (acceleration_Hz_per_s == 0.0) return rest / speed_Hz;
    return (std::sqrt(speed_Hz * speed_Hz + 2.0 * acceleration_Hz_per_s * rest) - speed_Hz) / acceleration_Hz_per_s;
  }

  std::size_t frames() const { return static_cast<std::size_t>(seconds * rate_Hz); }

  /// When the samples are taken.
  std::vector<double> times_s() const {
    std::vector<double> times(frames());
    std::mt19937 generator(seed + 500);
    std::normal_distribution<double> normal;
    for (std::size_t n = 0; n < times.size(); ++n) {
      const double late = sample_jitter_frames > 0.0 ? sample_jitter_frames * normal(generator) : 0.0;
      times[n] = (static_cast<double>(n) + late) / rate_Hz;
    }
    return times;
  }

  void add_pulse(std::vector<double>& tach, const std::vector<double>& times, double edge_turn, double width_turn,
                 double jitter_frames) const {
    const double begin = time_at(edge_turn) * rate_Hz + jitter_frames;
    const double end = time_at(edge_turn + width_turn) * rate_Hz;
    const auto from = static_cast<std::ptrdiff_t>(std::floor(begin - rise_frames));
    const auto to = static_cast<std::ptrdiff_t>(std::ceil(end + rise_frames));
    for (auto n = std::max<std::ptrdiff_t>(from, 0); n <= to && n < static_cast<std::ptrdiff_t>(tach.size()); ++n) {
      const double at = times[static_cast<std::size_t>(n)] * rate_Hz;
      const double up = std::clamp((at - begin) / rise_frames + 0.5, 0.0, 1.0);
      const double down = std::clamp((end - at) / rise_frames + 0.5, 0.0, 1.0);
      double& here = tach[static_cast<std::size_t>(n)];
      here = std::max(here, pulse_height_V * std::min(up, down));
    }
  }

  std::vector<double> tach() const {
    std::vector<double> tach(frames(), 0.0);
    const std::vector<double> times = times_s();
    std::mt19937 generator(seed + 77);
    std::normal_distribution<double> normal;
    int number = 0;
    for (int turn = 1; turn <= static_cast<int>(turns_at(seconds)) + 1; ++turn) {
      for (std::size_t p = 0; p < pulse_positions_turn.size(); ++p, ++number) {
        const double edge = turn + pulse_positions_turn[p];
        const double jitter = edge_jitter_frames * normal(generator);
        if (std::find(lost.begin(), lost.end(), number) == lost.end()) {
          add_pulse(tach, times, edge, pulse_widths_turn[p % pulse_widths_turn.size()], jitter);
        }
        for (const auto& [after, distance] : extra) {
          if (after == number) add_pulse(tach, times, edge + distance, 0.01, 0.0);
        }
      }
    }
    for (double& v : tach)
      v = (pulses_down ? pulse_height_V - v : v) + (tach_noise_V > 0.0 ? tach_noise_V * normal(generator) : 0.0);
    return tach;
  }

  std::vector<double> sensor(std::size_t s) const {
    std::vector<double> signal(frames());
    std::mt19937 generator(seed + 1000 * static_cast<unsigned>(s));
    std::normal_distribution<double> normal;
    const std::vector<double> times = times_s();
    for (std::size_t n = 0; n < signal.size(); ++n) {
      const double time_s = times[n];
      const double angle = turn_rad * turns_at(time_s);
      double x = dc_V + (noise_V > 0.0 ? noise_V * normal(generator) : 0.0);
      for (const Line& line : sensors[s]) x += line.amplitude * std::cos(line.order * angle - radians(line.lag_deg));
      signal[n] = x + (disturbance ? disturbance(time_s, s) : 0.0);
    }
    return signal;
  }

  /// Sensors first, the tach last.
  std::vector<std::vector<double>> channels() const {
    std::vector<std::vector<double>> all;
    for (std::size_t s = 0; s < sensors.size(); ++s) all.push_back(sensor(s));
    all.push_back(tach());
    return all;
  }

  MemoryRecording recording() const { return {rate_Hz, channels()}; }

  Rig rig() const {
    Rig rig;
    for (std::size_t s = 0; s < sensors.size(); ++s) {
      Sensor sensor;
      sensor.name = std::string(1, static_cast<char>('A' + s));
      sensor.channel = static_cast<int>(s + 1);
      rig.sensors.push_back(sensor);
    }
    rig.tach.channel = static_cast<int>(sensors.size() + 1);
    rig.tach.pulses_per_revolution = static_cast<int>(pulse_positions_turn.size());
    rig.tach.edge = pulses_down ? Edge::falling : Edge::rising;
    return rig;
  }
};

}  // namespace counterspot::test
