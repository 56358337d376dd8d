#include "rigsim/scenario.hpp"

#include <algorithm>
#include <cmath>

#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"

namespace rigsim {

namespace {

using counterspot::pi;
using counterspot::rad_per_s;

constexpr double steel_kg_m3 = 7850.0;
constexpr double steel_Pa = 206.8e9;
constexpr double volts_per_m_s2 = 0.1 / counterspot::standard_gravity_m_s2;  // 100 mV/g

/// Thin wall: mass per length ρπdt, second moment of area πd³t/8, d the mean diameter.
void set_tube(Scenario& scenario, const TubeSize& tube, double begin_m, double end_m) {
  const double mean_m = tube.outside_diameter_m - tube.wall_m;
  scenario.tube = tube;
  scenario.shaft.tube_begin_m = begin_m;
  scenario.shaft.tube_end_m = end_m;
  scenario.shaft.tube_kg_m = steel_kg_m3 * pi * mean_m * tube.wall_m;
  scenario.shaft.tube_bending_stiffness_N_m2 = steel_Pa * pi * std::pow(mean_m, 3) * tube.wall_m / 8.0;
}

/// A pedestal that would swing at `resonance_Hz` with its share of the shaft on it.
Pedestal pedestal_of(double mass_kg, double carried_kg, double resonance_Hz, double damping) {
  const double rate = counterspot::turn_rad * resonance_Hz;
  const double moving_kg = mass_kg + carried_kg;
  return {mass_kg, moving_kg * rate * rate, 2.0 * damping * moving_kg * rate};
}

double bending_rad_s(const Scenario& scenario) {
  MovingParts parts = moving_parts(scenario.rig, scenario.shaft);
  return std::sqrt(parts.stiffness(2, 2) / parts.mass(2, 2));
}

/// Yokes welded off centre at the ends, and along the tube an uneven wall: nine slices, each in a direction of its own.
void set_unbalance(Scenario& scenario, double times_limit, Random& random) {
  ShaftTruth& shaft = scenario.shaft;
  for (const EndMass& end : shaft.ends) {
    shaft.slices.push_back({end.position_m, std::polar(random.uniform(0.3, 1.0), random.direction_rad())});
  }
  constexpr int count = 9;
  for (int i = 0; i < count; ++i) {
    double at = shaft.tube_begin_m + (i + 0.5) / count * (shaft.tube_end_m - shaft.tube_begin_m);
    shaft.slices.push_back({at, std::polar(0.1 * std::abs(random.normal()), random.direction_rad())});
  }
  auto at = rigid_equivalent(shaft, {}, scenario.plane_positions_m());
  double scale = times_limit * 0.5 * g16_total_kg_m(scenario) / std::max(std::abs(at[0]), std::abs(at[1]));
  for (UnbalanceSlice& slice : shaft.slices) slice.unbalance_kg_m *= scale;
}

SensorTruth accelerometer(const std::string& name, int pedestal, double noise_si_rtHz, double hum_V) {
  return {name, pedestal, counterspot::Motion::acceleration, volts_per_m_s2, 0.5, noise_si_rtHz, 0.0, hum_V};
}

/// Tube sizes of the trade, 1¼ to 4 in (common practice), in inches.
constexpr std::array<std::array<double, 2>, 6> tube_sizes_in = {
    {{1.25, 0.065}, {2.0, 0.065}, {2.5, 0.083}, {3.0, 0.083}, {3.5, 0.083}, {4.0, 0.095}}};

void draw_shaft(Scenario& scenario, Random& random) {
  const auto& size = tube_sizes_in[static_cast<std::size_t>(random.uniform(0.0, tube_sizes_in.size()))];
  const TubeSize tube{size[0] * counterspot::m_per_in, size[1] * counterspot::m_per_in};
  const double margin_m = random.uniform(0.03, 0.06);
  double length_m = random.uniform(9.0, 20.0) * tube.outside_diameter_m;
  set_tube(scenario, tube, 0.0, length_m);
  scenario.shaft.support_a_m = -margin_m;
  scenario.shaft.support_b_m = length_m + margin_m;
  const double yoke_kg = 0.35 * scenario.shaft.tube_kg_m * length_m;
  scenario.shaft.ends = {{-0.3 * margin_m, yoke_kg * random.uniform(0.7, 1.6)},
                         {length_m + 0.3 * margin_m, yoke_kg * random.uniform(0.7, 1.6)}};
  const double radius_m = 0.5 * tube.outside_diameter_m + 0.002;
  scenario.planes = {
      {{"A", random.uniform(0.03, 0.09), radius_m}, {"B", length_m - random.uniform(0.03, 0.09), radius_m}}};
}

void draw_pedestals(Scenario& scenario, Random& random) {
  const bool soft = random.uniform() < 0.5;
  for (Pedestal& pedestal : scenario.rig.pedestals) {
    double resonance_Hz = soft ? random.uniform(6.0, 11.0) : random.uniform(70.0, 110.0);
    double carried_kg = 0.5 * scenario.shaft.mass_kg();
    pedestal = pedestal_of(random.uniform(3.0, 14.0), carried_kg, resonance_Hz, random.uniform(0.02, 0.08));
  }
}

void draw_surroundings(Scenario& scenario, Random& random) {
  RigTruth& rig = scenario.rig;
  rig.recorder.sample_rate_Hz = 2560.0;  // ample for order 1, and quick
  rig.sensor_angle_rad = random.direction_rad();
  for (int i : {0, 1}) rig.sensors.push_back(accelerometer(i == 0 ? "A" : "B", i, 0.0, 0.0));
  // A rig that is fit for the work: the noise leaves a reading of 4 s uncertain by ½ to 4 % of what half the limit
  // gives.
  ShaftTruth at_limit = scenario.shaft;
  at_limit.slices = {{at_limit.center_of_mass_m(), g16_total_kg_m(scenario)}};
  std::vector<Phasor> half_limit = steady_vectors(rig, at_limit, {}, scenario.balancing_rad_s);
  for (std::size_t s = 0; s < 2; ++s) {
    double part = std::exp(random.uniform(std::log(0.005), std::log(0.04)));
    rig.sensors[s].noise_si_rtHz = part * std::abs(half_limit[s]) * std::sqrt(4.0);
    rig.sensors[s].hum_V = random.uniform() * std::abs(half_limit[s]) * rig.sensors[s].volts_per_si;
  }
  rig.tach.jitter_s = random.uniform(1e-6, 10e-6);
  rig.tach.noise_V = random.uniform(0.0, 0.05);
  for (Phasor& joint : scenario.shaft.joints) {
    joint = std::polar(random.uniform(0.0, 0.3) * g16_total_kg_m(scenario), random.direction_rad());
  }
}

}  // namespace

double g16_total_kg_m(const Scenario& scenario) {
  return 0.016 * scenario.shaft.mass_kg() / scenario.service_rad_s;
}

UnbalanceSlice piece_at(const PlaneTruth& plane, double mass_kg, double angle_rad) {
  return {plane.position_m, std::polar(1.0, angle_rad) * mass_kg * plane.radius_m};
}

SpinTruth steady_spin(const Scenario& scenario, double duration_s, std::uint64_t seed) {
  Random random(seed, 2);
  SpinTruth spin;
  spin.seed = seed;
  spin.duration_s = duration_s;
  spin.speed.start_rad_s = scenario.balancing_rad_s * (1.0 + 0.001 * random.normal());
  spin.speed.hunting_rad_s = scenario.balancing_rad_s * random.uniform(0.0002, 0.001);
  spin.speed.hunting_Hz = random.uniform(0.2, 0.7);
  spin.speed.hunting_phase_rad = random.direction_rad();
  spin.speed.start_angle_rad = random.direction_rad();
  return spin;
}

Scenario marrow_creek() {
  Scenario scenario;
  scenario.rig_name = "Marrow Creek, bay 2";
  scenario.shaft_id = "MC-0417";
  scenario.service_rad_s = rad_per_s(3200.0);
  scenario.balancing_rad_s = rad_per_s(1620.0);
  set_tube(scenario, {0.0762, 0.0021}, 0.04, 1.46);
  ShaftTruth& shaft = scenario.shaft;
  shaft.ends = {{0.02, 4.45}, {1.48, 4.70}};
  shaft.support_a_m = 0.0;
  shaft.support_b_m = 1.5;
  scenario.planes = {{{"A", 0.07, 0.039}, {"B", 1.43, 0.039}}};
  RigTruth& rig = scenario.rig;
  rig.pedestals = {pedestal_of(11.0, 0.5 * shaft.mass_kg(), 8.5, 0.05),
                   pedestal_of(14.0, 0.5 * shaft.mass_kg(), 10.5, 0.04)};
  rig.sensor_angle_rad = counterspot::radians(90.0);
  rig.sensors = {accelerometer("A", 0, 1.5e-3, 0.6e-3), accelerometer("B", 1, 1.8e-3, 0.9e-3)};
  rig.tach.jitter_s = 3e-6;
  rig.tach.noise_V = 0.02;
  rig.neighbours = {{24.2, {0.6, 0.9}, 1.0}};  // the saw in the next bay
  Random random(417);
  set_unbalance(scenario, 4.2, random);
  add_bow(shaft, 30e-6, counterspot::radians(250.0));
  shaft.joints = {std::polar(40e-6, 0.7), std::polar(55e-6, 2.9)};
  return scenario;
}

Scenario random_scenario(std::uint64_t seed, double times_limit) {
  Random random(seed, 3);
  Scenario scenario;
  scenario.rig_name = "rig " + std::to_string(seed);
  scenario.shaft_id = "R-" + std::to_string(seed);
  draw_shaft(scenario, random);
  draw_pedestals(scenario, random);
  const double bending = bending_rad_s(scenario);
  // Service at most at 0.6 of the critical speed, balancing well under it (common practice: service under 0.75).
  scenario.service_rad_s = std::min(rad_per_s(random.uniform(2500.0, 4000.0)), 0.6 * bending);
  scenario.balancing_rad_s = std::min(rad_per_s(random.uniform(1400.0, 1900.0)), 0.3 * bending);
  draw_surroundings(scenario, random);
  set_unbalance(scenario, times_limit, random);
  return scenario;
}

}  // namespace rigsim
