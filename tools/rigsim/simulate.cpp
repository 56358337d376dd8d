#include "rigsim/simulate.hpp"

#include <algorithm>
#include <cmath>

#include "rigsim/movement.hpp"
#include "rigsim/random.hpp"
#include "rigsim/tach_signal.hpp"

namespace rigsim {

namespace {

/// 1/f noise as a sum of one-pole noises an octave apart (van der Ziel 1950), from 0.1 Hz up; within 5 % of 1/f.
class PinkNoise {
 public:
  PinkNoise(double density_at_1Hz, double sample_rate_Hz) {
    for (double corner = 0.1; corner < 0.4 * sample_rate_Hz; corner *= 2.0) {
      double keep = std::exp(-counterspot::turn_rad * corner / sample_rate_Hz);
      // Octave-spaced Lorentzians of variance ln2·S(1 Hz)·1 Hz each add to a power density S(1 Hz)/f.
      double variance = std::log(2.0) * density_at_1Hz * density_at_1Hz;
      poles_.push_back({keep, std::sqrt(variance * (1.0 - keep * keep)), 0.0});
    }
  }

  double next(Random& random) {
    double sum = 0.0;
    for (Pole& pole : poles_) {
      pole.value = pole.keep * pole.value + pole.drive * random.normal();
      sum += pole.value;
    }
    return sum;
  }

 private:
  struct Pole {
    double keep, drive, value;
  };
  std::vector<Pole> poles_;
};

void add_noise(std::vector<double>& movement, const SensorTruth& sensor, double sample_rate_Hz, Random& random) {
  if (sensor.noise_si_rtHz > 0.0) {
    double deviation = sensor.noise_si_rtHz * std::sqrt(0.5 * sample_rate_Hz);
    for (double& value : movement) value += deviation * random.normal();
  }
  if (sensor.pink_si > 0.0) {
    PinkNoise pink(sensor.pink_si, sample_rate_Hz);
    for (double& value : movement) value += pink.next(random);
  }
}

void to_volts(std::vector<double>& signal, const SensorTruth& sensor, const RigTruth& rig, double hum_phase_rad) {
  const double rate = counterspot::turn_rad * rig.mains_Hz / rig.recorder.sample_rate_Hz;
  for (std::size_t i = 0; i < signal.size(); ++i) {
    signal[i] = signal[i] * sensor.volts_per_si;
    if (sensor.hum_V > 0.0) signal[i] += sensor.hum_V * std::cos(rate * static_cast<double>(i) + hum_phase_rad);
  }
}

void break_contact(std::vector<double>& volts, int sensor, const RigTruth& rig, const SpinTruth& spin) {
  const double rate = rig.recorder.sample_rate_Hz;
  const double corner = counterspot::turn_rad * rig.sensors[static_cast<std::size_t>(sensor)].coupling_Hz;
  for (std::size_t i = 0; i < volts.size(); ++i) {
    const double time_s = static_cast<double>(i) / rate;
    for (const LevelStep& step : spin.level_steps) {
      if (step.sensor == sensor && time_s >= step.at_s)
        volts[i] += step.step_V * std::exp(-corner * (time_s - step.at_s));
    }
    for (const Dropout& dropout : spin.dropouts) {
      const bool out = time_s >= dropout.at_s && time_s < dropout.at_s + dropout.duration_s;
      if (dropout.sensor == sensor && out) volts[i] = 0.0;
    }
  }
}

void convert(std::vector<double>& volts, const RecorderTruth& recorder) {
  if (recorder.bits == 0) return;
  const double steps = std::ldexp(1.0, recorder.bits - 1);
  for (double& value : volts) {
    double code = std::clamp(std::round(value / recorder.full_scale_V * steps), -steps, steps - 1.0);
    value = code / steps * recorder.full_scale_V;
  }
}

}  // namespace

Recorded simulate(const RigTruth& rig, const ShaftTruth& shaft, const SpinTruth& spin) {
  const RecorderTruth& recorder = rig.recorder;
  const SpeedCurve curve(spin.speed);
  const auto samples = static_cast<std::size_t>(std::llround(spin.duration_s * recorder.sample_rate_Hz));
  std::vector<std::vector<double>> movements = sensor_movements(rig, shaft, spin, curve, samples);
  Recorded recorded{recorder.sample_rate_Hz, recorder.full_scale_V, recorder.bits, {}};
  for (std::size_t s = 0; s < rig.sensors.size(); ++s) {
    Random random(spin.seed, 10 + s);
    double hum_phase_rad = random.direction_rad();
    add_noise(movements[s], rig.sensors[s], recorder.sample_rate_Hz, random);
    to_volts(movements[s], rig.sensors[s], rig, hum_phase_rad);
    break_contact(movements[s], static_cast<int>(s), rig, spin);
    recorded.channels.push_back({rig.sensors[s].name, std::move(movements[s])});
  }
  Random random(spin.seed, 1);
  recorded.channels.push_back({"tach", tach_signal(rig, spin, curve, samples, random)});
  for (RecordedChannel& channel : recorded.channels) convert(channel.volts, recorder);
  return recorded;
}

}  // namespace rigsim
