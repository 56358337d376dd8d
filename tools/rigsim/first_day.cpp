#include "rigsim/first_day.hpp"

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <complex>

#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"

namespace rigsim {

namespace {

using counterspot::rad_per_s;
using counterspot::turn_rad;

constexpr double full_scale_V = 10.0;

/// One pole, exact for what is held between samples.
void high_pass(std::vector<double>& volts, double corner_Hz, double rate_Hz) {
  const double keep = std::exp(-turn_rad * corner_Hz / rate_Hz);
  double low = volts.front();
  for (double& v : volts) {
    low = keep * low + (1.0 - keep) * v;
    v -= low;
  }
}

/// From what sensors and tach give to what the recorder writes.
Recorded wired(const FirstDay& day, const std::vector<std::vector<double>>& sensors, std::vector<double> tach,
               std::uint64_t seed) {
  const RecorderTruth& recorder = day.scenario.rig.recorder;
  Recorded recorded{recorder.sample_rate_Hz, full_scale_V, recorder.bits, {}};
  const std::size_t frames = tach.size();
  for (std::size_t c = 0; c < day.channels; ++c)
    recorded.channels.push_back({std::to_string(c + 1), std::vector<double>(frames, 0.0)});
  for (std::size_t s : {0U, 1U}) {
    auto& volts = recorded.channels[day.channel[s]].volts;
    for (std::size_t i = 0; i < frames; ++i) volts[i] = (day.inverted[s] ? -1.0 : 1.0) * sensors[s][i];
  }
  if (day.sound_card_Hz > 0.0) high_pass(tach, day.sound_card_Hz, recorder.sample_rate_Hz);
  recorded.channels[day.channel[2]].volts = std::move(tach);
  Random random(seed, 30);
  const double steps = std::ldexp(1.0, recorder.bits - 1);
  for (RecordedChannel& channel : recorded.channels) {
    for (double& v : channel.volts) {
      v += day.floor_V * random.normal();
      v = std::clamp(std::round(v / full_scale_V * steps), -steps, steps - 1.0) / steps * full_scale_V;
    }
  }
  return recorded;
}

/// The simulated spin before its recorder, wired as on that day.
Recorded wired_spin(const FirstDay& day, const ShaftTruth& shaft, const RigTruth& rig, const SpinTruth& spin) {
  RigTruth open = rig;
  open.recorder.bits = 0;
  Recorded plain = simulate(open, shaft, spin);
  return wired(day, {plain.channels[0].volts, plain.channels[1].volts}, plain.channels[2].volts, spin.seed);
}

ShaftTruth still(const ShaftTruth& shaft) {
  ShaftTruth balanced = shaft;
  balanced.slices.clear();
  balanced.joints = {};
  return balanced;
}

/// The tach between two marks, as good as standing.
SpinTruth standing(double seconds, std::uint64_t seed) {
  SpinTruth spin;
  spin.seed = seed;
  spin.duration_s = seconds;
  spin.speed.start_rad_s = 1e-4;
  spin.speed.start_angle_rad = 0.7;
  return spin;
}

/// Displacements and speeds of both pedestals.
struct State {
  std::array<double, 2> x{}, v{};
};

State slope_of(const FirstDay& day, const State& state, const std::array<double, 2>& force_N) {
  State slope;
  for (std::size_t i : {0U, 1U}) {
    const Pedestal& p = day.scenario.rig.pedestals[i];
    slope.x[i] = state.v[i];
    slope.v[i] = (force_N[i] - p.damping_N_s_m * state.v[i] - p.stiffness_N_m * state.x[i] -
                  day.bed_N_m * (state.x[i] - state.x[1 - i])) /
                 p.mass_kg;
  }
  return slope;
}

State moved(const State& state, const State& slope, double step) {
  State next = state;
  for (std::size_t i : {0U, 1U}) {
    next.x[i] += step * slope.x[i];
    next.v[i] += step * slope.v[i];
  }
  return next;
}

/// Accelerations of the pedestals while they are knocked.
std::array<std::vector<double>, 2> knocked(const FirstDay& day, const std::vector<Knock>& blows, std::size_t frames) {
  const double rate_Hz = day.scenario.rig.recorder.sample_rate_Hz;
  const int parts = std::max(1, static_cast<int>(std::ceil(20000.0 / rate_Hz)));
  const double step_s = 1.0 / rate_Hz / parts;
  const auto force_at = [&](double time_s) {
    std::array<double, 2> force{};
    for (const Knock& blow : blows) {
      const double part = (time_s - blow.at_s) / blow.duration_s;
      if (part > 0.0 && part < 1.0)
        force[static_cast<std::size_t>(blow.pedestal)] += blow.peak_N * std::sin(counterspot::pi * part);
    }
    return force;
  };
  std::array<std::vector<double>, 2> acceleration;
  State state;
  for (std::size_t i = 0; i < frames; ++i) {
    const double begin_s = static_cast<double>(i) / rate_Hz;
    const State now = slope_of(day, state, force_at(begin_s));
    for (std::size_t p : {0U, 1U}) acceleration[p].push_back(now.v[p]);
    for (int k = 0; k < parts; ++k) {
      const double t = begin_s + k * step_s;
      const State a = slope_of(day, state, force_at(t));
      const State b = slope_of(day, moved(state, a, 0.5 * step_s), force_at(t + 0.5 * step_s));
      const State c = slope_of(day, moved(state, b, 0.5 * step_s), force_at(t + 0.5 * step_s));
      const State d = slope_of(day, moved(state, c, step_s), force_at(t + step_s));
      state = moved(moved(moved(moved(state, a, step_s / 6.0), b, step_s / 3.0), c, step_s / 3.0), d, step_s / 6.0);
    }
  }
  return acceleration;
}

}  // namespace

double FirstDay::shaft_angle_of(double clockwise_rad) const {
  // The rotation as the owner sees it. Where it goes against the clock, against the rotation is clockwise.
  const bool counter_clockwise = from_a_counter_clockwise == viewed_from_a;
  return counter_clockwise ? clockwise_rad : -clockwise_rad;
}

FirstDay random_first_day(std::uint64_t seed) {
  FirstDay day;
  day.seed = seed;
  day.scenario = random_scenario(seed, 3.0);
  Random random(seed, 20);
  const auto chance = [&](double part) { return random.uniform() < part; };
  RigTruth& rig = day.scenario.rig;
  day.channels = chance(0.3) ? 4 : 3;
  std::array<std::size_t, 4> order = {0, 1, 2, 3};
  for (std::size_t i = day.channels - 1; i > 0; --i)
    std::swap(order[i], order[static_cast<std::size_t>(random.uniform(0.0, static_cast<double>(i + 1)))]);
  for (std::size_t i = 0; i < 3; ++i) day.channel[i] = order[i];
  for (bool& inverted : day.inverted) inverted = chance(0.4);
  day.from_a_counter_clockwise = chance(0.5);
  day.viewed_from_a = chance(0.6);
  if (chance(0.5)) std::swap(rig.tach.low_V, rig.tach.high_V);
  rig.tach.width_rad = random.uniform(0.12, 0.3);
  if (chance(0.2)) rig.tach.pulses_per_revolution = 2;
  if (chance(0.2)) rig.tach.rough_s = 3e-4;
  day.bed_N_m = random.uniform(0.0, 0.05) * std::min(rig.pedestals[0].stiffness_N_m, rig.pedestals[1].stiffness_N_m);
  day.floor_V = 2e-5;
  rig.mains_Hz = chance(0.5) ? 50.0 : 60.0;
  if (chance(0.35)) {
    day.sound_card_Hz = 15.0;
    rig.recorder.sample_rate_Hz = 8000.0;
    rig.recorder.bits = 16;
    day.floor_V = 3e-4;
    for (SensorTruth& sensor : rig.sensors) sensor.coupling_Hz = 15.0;
  }
  return day;
}

Recorded at_rest(const FirstDay& day, std::uint64_t seed, bool drive_on) {
  RigTruth rig = day.scenario.rig;
  if (drive_on) rig.neighbours = {{counterspot::rpm(day.scenario.balancing_rad_s) / 60.0, {0.05, 0.05}, 0.4}};
  return wired_spin(day, still(day.scenario.shaft), rig, standing(10.0, seed));
}

Recorded knocks(const FirstDay& day, int pedestal, bool towards, std::uint64_t seed) {
  Random random(seed, 21);
  std::vector<Knock> blows;
  double at_s = 1.0;
  for (int i = 0; i < 3; ++i) {
    const double size_N = random.uniform(250.0, 500.0);
    blows.push_back({at_s, pedestal, towards ? size_N : -size_N, random.uniform(0.002, 0.004)});
    at_s += random.uniform(1.6, 2.4);
  }
  // Sensors, their noise and their inputs as in a spin of a shaft that does not move them.
  RigTruth rig = day.scenario.rig;
  const double rate_Hz = rig.recorder.sample_rate_Hz;
  rig.recorder.bits = 0;
  Recorded quiet = simulate(rig, still(day.scenario.shaft), standing(at_s + 0.5, seed));
  const std::size_t frames = quiet.channels[0].volts.size();
  const auto acceleration = knocked(day, blows, frames);
  for (std::size_t s : {0U, 1U}) {
    std::vector<double> volts = acceleration[s];
    for (double& v : volts) v *= rig.sensors[s].volts_per_si;
    high_pass(volts, rig.sensors[s].coupling_Hz, rate_Hz);
    for (std::size_t i = 0; i < frames; ++i) quiet.channels[s].volts[i] += volts[i];
  }
  return wired(day, {quiet.channels[0].volts, quiet.channels[1].volts}, quiet.channels[2].volts, seed);
}

Recorded on_shaker(const FirstDay& day, int sensor, const ShakerTruth& shaker, std::uint64_t seed) {
  constexpr double put_on_s = 1.5;
  RigTruth rig = day.scenario.rig;
  const double rate_Hz = rig.recorder.sample_rate_Hz;
  rig.recorder.bits = 0;
  Recorded quiet = simulate(rig, still(day.scenario.shaft), standing(shaker.seconds, seed));
  const auto s = static_cast<std::size_t>(sensor);
  std::vector<double> volts(quiet.channels[s].volts.size(), 0.0);
  for (std::size_t i = static_cast<std::size_t>(put_on_s * rate_Hz); i < volts.size(); ++i) {
    const double t = static_cast<double>(i) / rate_Hz;
    const double wander = 1.0 + shaker.wander * std::sin(turn_rad * t / shaker.seconds * 1.5);
    volts[i] = rig.sensors[s].volts_per_si * std::sqrt(2.0) * shaker.m_s2_rms * wander *
               std::cos(turn_rad * shaker.frequency_Hz * t);
  }
  high_pass(volts, rig.sensors[s].coupling_Hz, rate_Hz);
  for (std::size_t i = 0; i < volts.size(); ++i) quiet.channels[s].volts[i] += volts[i];
  return wired(day, {quiet.channels[0].volts, quiet.channels[1].volts}, quiet.channels[2].volts, seed);
}

Recorded hand_turning(const FirstDay& day, double turns, std::uint64_t seed) {
  Random random(seed, 22);
  SpinTruth spin = standing(0.0, seed);
  spin.speed.start_rad_s = random.uniform(2.5, 4.0);
  spin.speed.start_angle_rad = -0.5 * turn_rad + random.uniform(-0.5, 0.5);
  spin.speed.hunting_rad_s = 0.4 * spin.speed.start_rad_s;
  spin.speed.hunting_Hz = random.uniform(0.3, 0.6);
  spin.speed.hunting_phase_rad = random.direction_rad();
  const SpeedCurve curve(spin.speed);
  spin.duration_s = curve.time_of(spin.speed.start_angle_rad + turns * turn_rad, turns * 2.0);
  return wired_spin(day, day.scenario.shaft, day.scenario.rig, spin);
}

Recorded slow_run(const FirstDay& day, std::uint64_t seed, double seconds) {
  SpinTruth spin = steady_spin(day.scenario, seconds, seed);
  spin.speed.start_rad_s = rad_per_s(300.0);
  spin.speed.hunting_rad_s = 0.3;
  return wired_spin(day, day.scenario.shaft, day.scenario.rig, spin);
}

Recorded balancing_spin(const FirstDay& day, const std::vector<UnbalanceSlice>& fitted, std::uint64_t seed,
                        double seconds) {
  SpinTruth spin = steady_spin(day.scenario, seconds, seed);
  spin.fitted = fitted;
  return wired_spin(day, day.scenario.shaft, day.scenario.rig, spin);
}

std::vector<ModeTruth> modes_of(const FirstDay& day) {
  const MovingParts parts = moving_parts(day.scenario.rig, day.scenario.shaft);
  using Matrix6d = Eigen::Matrix<double, 6, 6>;
  Matrix6d state = Matrix6d::Zero();
  state.topRightCorner<3, 3>().setIdentity();
  state.bottomLeftCorner<3, 3>() = -parts.mass.inverse() * parts.stiffness;
  state.bottomRightCorner<3, 3>() = -parts.mass.inverse() * parts.damping;
  std::vector<ModeTruth> modes;
  for (const std::complex<double>& pole : state.eigenvalues()) {
    if (pole.imag() > 0.0) modes.push_back({std::abs(pole), -pole.real() / std::abs(pole)});
  }
  std::ranges::sort(modes, {}, &ModeTruth::natural_rad_s);
  return modes;
}

double top_rad_s(const FirstDay& day) {
  return 1.6 * modes_of(day)[1].natural_rad_s;
}

Recorded top_run(const FirstDay& day, std::uint64_t seed, double seconds) {
  SpinTruth spin = steady_spin(day.scenario, seconds, seed);
  spin.speed.start_rad_s = top_rad_s(day);
  return wired_spin(day, day.scenario.shaft, day.scenario.rig, spin);
}

Recorded coast_down(const FirstDay& day, double from_rad_s, const std::vector<UnbalanceSlice>& fitted,
                    std::uint64_t seed, double seconds) {
  SpinTruth spin = standing(seconds + 1.0, seed);
  spin.speed.start_rad_s = from_rad_s;
  spin.speed.stretches.push_back({seconds, 0.02});  // the simulation's shaft never quite stops
  spin.fitted = fitted;
  return wired_spin(day, day.scenario.shaft, day.scenario.rig, spin);
}

double known_mass_kg(const FirstDay& day) {
  return 1.5 * g16_total_kg_m(day.scenario) / day.scenario.planes[0].radius_m;
}

UnbalanceSlice known_weight(const FirstDay& day, int plane, double clockwise_rad, std::uint64_t seed) {
  Random hands(seed, 40);
  const double mass_kg = known_mass_kg(day) * (1.0 + 0.01 * hands.normal());
  const double angle_rad = day.shaft_angle_of(clockwise_rad) + counterspot::radians(2.0) * hands.normal();
  return piece_at(day.scenario.planes[static_cast<std::size_t>(plane)], mass_kg, angle_rad);
}

}  // namespace rigsim
