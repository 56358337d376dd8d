#include "rigsim/tach_signal.hpp"

#include <algorithm>
#include <cmath>

namespace rigsim {

namespace {

/// 0 before, 1 after, ½ at time 0.
double edge_shape(double time_s, double rise_s) {
  if (time_s <= -0.5 * rise_s) return 0.0;
  if (time_s >= 0.5 * rise_s) return 1.0;
  return 0.5 * (1.0 + std::sin(counterspot::pi * time_s / rise_s));
}

/// The recorder's anti-alias filter slows an edge to about a sample and a half, alike on both sides of half height.
double recorded_rise_s(const RigTruth& rig) {
  return std::hypot(rig.tach.rise_s, 1.5 / rig.recorder.sample_rate_Hz);
}

struct Pulse {
  double rise_at_s, fall_at_s;
};

void add_pulse(std::vector<double>& height, const Pulse& pulse, double rise_s, double sample_rate_Hz) {
  auto index_of = [&](double time_s) {
    return static_cast<std::size_t>(std::clamp(time_s * sample_rate_Hz, 0.0, static_cast<double>(height.size())));
  };
  for (std::size_t i = index_of(pulse.rise_at_s - rise_s); i < index_of(pulse.fall_at_s + rise_s) + 1; ++i) {
    if (i >= height.size()) break;
    double time_s = static_cast<double>(i) / sample_rate_Hz;
    height[i] += edge_shape(time_s - pulse.rise_at_s, rise_s) - edge_shape(time_s - pulse.fall_at_s, rise_s);
  }
}

std::vector<Pulse> pulses_of(const RigTruth& rig, const SpinTruth& spin, const SpeedCurve& curve, double end_s,
                             Random& random) {
  const TachTruth& tach = rig.tach;
  const double spacing_rad = counterspot::turn_rad / tach.pulses_per_revolution;
  auto listed = [](const std::vector<int>& list, int i) {
    return std::find(list.begin(), list.end(), i) != list.end();
  };
  std::vector<Pulse> pulses;
  // One pulse before the first, in case its tail reaches into the recording.
  double k = std::floor(curve.at(0.0).angle_rad / spacing_rad);
  double guess_s = 0.0;
  for (int count = -1;; ++count, k += 1.0) {
    double angle_rad = k * spacing_rad;
    double jitter_s = std::hypot(tach.jitter_s, tach.rough_s) * random.normal();
    double rise_at_s = curve.time_of(angle_rad, guess_s) + jitter_s;
    guess_s = rise_at_s;
    if (rise_at_s > end_s + recorded_rise_s(rig)) break;
    bool first_of_turn = std::fmod(k, tach.pulses_per_revolution) == 0.0;
    double width_rad = tach.pulses_per_revolution > 1 && first_of_turn ? 2.0 * tach.width_rad : tach.width_rad;
    double fall_at_s = curve.time_of(angle_rad + width_rad, guess_s) + tach.jitter_s * random.normal();
    if (!listed(spin.lost_pulses, count)) pulses.push_back({rise_at_s, fall_at_s});
    if (listed(spin.double_pulses, count)) {
      double gap_s = fall_at_s - rise_at_s;
      pulses.push_back({fall_at_s + gap_s, fall_at_s + 1.6 * gap_s});
    }
  }
  return pulses;
}

}  // namespace

std::vector<double> tach_signal(const RigTruth& rig, const SpinTruth& spin, const SpeedCurve& curve,
                                std::size_t samples, Random& random) {
  const TachTruth& tach = rig.tach;
  const double rate_Hz = rig.recorder.sample_rate_Hz;
  std::vector<double> signal(samples, 0.0);
  for (const Pulse& pulse : pulses_of(rig, spin, curve, static_cast<double>(samples) / rate_Hz, random)) {
    add_pulse(signal, pulse, recorded_rise_s(rig), rate_Hz);
  }
  for (double& value : signal) {
    value = tach.low_V + (tach.high_V - tach.low_V) * value + tach.noise_V * random.normal();
  }
  return signal;
}

std::vector<double> mark_times_s(const SpeedCurve& curve, double duration_s) {
  std::vector<double> times;
  double turns = std::ceil(curve.at(0.0).angle_rad / counterspot::turn_rad);
  double time_s = curve.time_of(turns * counterspot::turn_rad, 0.0);
  while (time_s <= duration_s) {
    times.push_back(time_s);
    turns += 1.0;
    time_s = curve.time_of(turns * counterspot::turn_rad, time_s);
  }
  return times;
}

}  // namespace rigsim
