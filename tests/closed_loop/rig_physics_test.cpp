// The simulated rig against closed forms of the textbooks, so that it may judge the solver.
#include <catch2/catch.hpp>
#include <cmath>

#include "rigsim/dynamics.hpp"
#include "rigsim/movement.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"

using namespace rigsim;
using counterspot::Motion;
using counterspot::pi;
using counterspot::radians;

namespace {

constexpr double bending_left_over = 2e-3;  // the tube below is stiff, not rigid
constexpr double quadrature = 1e-5;         // of the integrals along the tube
constexpr double integration = 1e-6;        // Simpson's rule at 5 kHz, see movement.hpp

/// A symmetric shaft with two equal pedestals and a weight in the middle: one degree of freedom, mass M, stiffness K.
struct Symmetric {
  RigTruth rig;
  ShaftTruth shaft;
  double moving_kg = 40.0;
  double natural_rad_s = 2.0 * pi * 20.0;
  double damping = 0.05;
};

Symmetric symmetric_rig() {
  Symmetric symmetric;
  symmetric.shaft.tube_begin_m = 0.0;
  symmetric.shaft.tube_end_m = 1.0;
  symmetric.shaft.tube_kg_m = 10.0;
  symmetric.shaft.tube_bending_stiffness_N_m2 = 1e8;
  symmetric.shaft.support_b_m = 1.0;
  const double pedestal_kg = 0.5 * (symmetric.moving_kg - symmetric.shaft.mass_kg());
  const double rate = symmetric.natural_rad_s;
  symmetric.rig.pedestals.fill(
      {pedestal_kg, 0.5 * symmetric.moving_kg * rate * rate, symmetric.damping * symmetric.moving_kg * rate});
  for (int i = 0; i < 2; ++i) {
    SensorTruth sensor{i == 0 ? "A" : "B", i, Motion::displacement, 1.0};
    sensor.coupling_Hz = 0.0;
    symmetric.rig.sensors.push_back(sensor);
  }
  return symmetric;
}

double lag_deg(const Phasor& vector) {
  return counterspot::direction_deg(vector);
}

}  // namespace

TEST_CASE("far below resonance the pedestal leans towards the sensor as the weight passes it") {
  Symmetric symmetric = symmetric_rig();
  symmetric.rig.sensor_angle_rad = radians(30.0);
  const double unbalance_kg_m = 1e-3;
  const double speed_rad_s = 0.02 * symmetric.natural_rad_s;
  auto vectors =
      steady_vectors(symmetric.rig, symmetric.shaft, {{0.5, std::polar(unbalance_kg_m, radians(77.0))}}, speed_rad_s);
  // A spring: x = U Ω²/K, and the weight passes the sensor at θ = β + ψ.
  const double stiffness_N_m = 2.0 * symmetric.rig.pedestals[0].stiffness_N_m;
  for (const Phasor& vector : vectors) {
    CHECK(std::abs(vector) == Approx(unbalance_kg_m * speed_rad_s * speed_rad_s / stiffness_N_m).epsilon(2e-3));
    CHECK(lag_deg(vector) == Approx(77.0 + 30.0).margin(0.2));
  }
}

TEST_CASE("the response to unbalance is the textbook's with one degree of freedom") {
  // Rotating unbalance, any vibrations textbook: X M/U = r²/√((1−r²)²+(2ζr)²), lag 90 deg at r = 1, peak 1/(2ζ√(1−ζ²))
  // at r = 1/√(1−2ζ²).
  Symmetric symmetric = symmetric_rig();
  const double z = symmetric.damping;
  auto magnification = [&](double r) {
    return steady_vectors(symmetric.rig, symmetric.shaft, {{0.5, 1e-3}}, r * symmetric.natural_rad_s)[0] *
           symmetric.moving_kg / 1e-3;
  };
  CHECK(lag_deg(magnification(1.0)) == Approx(90.0).margin(1.0));
  const double at_peak = 1.0 / std::sqrt(1.0 - 2.0 * z * z);
  CHECK(std::abs(magnification(at_peak)) == Approx(1.0 / (2.0 * z * std::sqrt(1.0 - z * z))).epsilon(0.01));
  for (double r : {0.3, 0.7, 1.4, 3.0}) {
    double expected = r * r / std::hypot(1.0 - r * r, 2.0 * z * r);
    CHECK(std::abs(magnification(r)) == Approx(expected).epsilon(5.0 * bending_left_over));
  }
}

TEST_CASE("the tube bends at the critical speed of the pinned beam") {
  // Blevins, Formulas for Natural Frequency and Mode Shape: ω = (π/L)²√(EI/ρA). 3.0 in tube, wall 0.083 in, 50 in long:
  // 7859.7 rpm with E = 206.8 GPa, ρ = 7850 kg/m³.
  const double outer_m = 3.0 * 0.0254, inner_m = outer_m - 2.0 * 0.083 * 0.0254;
  Symmetric symmetric = symmetric_rig();
  ShaftTruth& shaft = symmetric.shaft;
  shaft.tube_end_m = shaft.support_b_m = 50.0 * 0.0254;
  shaft.tube_kg_m = 7850.0 * pi / 4.0 * (outer_m * outer_m - inner_m * inner_m);
  shaft.tube_bending_stiffness_N_m2 = 206.8e9 * pi / 64.0 * (std::pow(outer_m, 4) - std::pow(inner_m, 4));
  MovingParts parts = moving_parts(symmetric.rig, shaft);
  double critical_rad_s = std::sqrt(parts.stiffness(2, 2) / parts.mass(2, 2));
  CHECK(counterspot::rpm(critical_rad_s) == Approx(7859.7).epsilon(quadrature));
  CHECK(parts.mass(0, 0) + 2.0 * parts.mass(0, 1) + parts.mass(1, 1) ==
        Approx(shaft.mass_kg() + 2.0 * symmetric.rig.pedestals[0].mass_kg).epsilon(quadrature));
}

TEST_CASE("the rigid equivalent keeps sum and moment, and at low speed the supports feel just that") {
  Scenario scenario = marrow_creek();
  auto positions = scenario.plane_positions_m();
  auto rigid = rigid_equivalent(scenario.shaft, {}, positions);
  Phasor sum, moment;
  for (const UnbalanceSlice& slice : scenario.shaft.slices) {
    sum += slice.unbalance_kg_m;
    moment += slice.unbalance_kg_m * slice.position_m;
  }
  CHECK(std::abs(rigid[0] + rigid[1] - sum) < 1e-12 * std::abs(sum));
  CHECK(std::abs(rigid[0] * positions[0] + rigid[1] * positions[1] - moment) < 1e-12 * std::abs(moment));
  auto felt = equivalent_at_speed(scenario.rig, scenario.shaft, {}, positions, counterspot::rad_per_s(20.0));
  CHECK(std::abs(felt[0] - rigid[0]) < 1e-4 * std::abs(rigid[0]));
}

TEST_CASE("in steady turning the integration in time gives the steady vectors, AC coupling and all") {
  Scenario scenario = marrow_creek();
  scenario.rig.neighbours.clear();
  scenario.shaft.joints = {};
  scenario.rig.sensors[1].motion = Motion::velocity;
  SpinTruth spin;
  spin.speed.start_rad_s = scenario.balancing_rad_s;
  spin.speed.start_angle_rad = 1.0;
  const SpeedCurve curve(spin.speed);
  const std::size_t samples = 5120;
  auto moved = sensor_movements(scenario.rig, scenario.shaft, spin, curve, samples);
  auto vectors = steady_vectors(scenario.rig, scenario.shaft, {}, scenario.balancing_rad_s);
  for (std::size_t s = 0; s < 2; ++s) {
    double worst = 0.0;
    for (std::size_t i = 0; i < samples; ++i) {
      double angle_rad = curve.at(static_cast<double>(i) / scenario.rig.recorder.sample_rate_Hz).angle_rad;
      worst = std::max(worst, std::abs(moved[s][i] - (std::conj(vectors[s]) * std::polar(1.0, angle_rad)).real()));
    }
    CHECK(worst < integration * std::abs(vectors[s]));
  }
}

TEST_CASE("a knock gives the pedestals the momentum of the blow") {
  // Right after a blow that is short against every period, Σ mass·velocity is its impulse, 2/π·peak·duration.
  Symmetric symmetric = symmetric_rig();
  for (SensorTruth& sensor : symmetric.rig.sensors) sensor.motion = Motion::velocity;
  SpinTruth spin;
  spin.speed.start_rad_s = 10.0;
  for (int pedestal : {0, 1}) spin.knocks.push_back({0.0, pedestal, 400.0, 0.002});
  symmetric.rig.recorder.sample_rate_Hz = 10000.0;
  auto moved = sensor_movements(symmetric.rig, symmetric.shaft, spin, SpeedCurve(spin.speed), 21);
  double impulse = 2.0 * (2.0 / pi) * 400.0 * 0.002;
  CHECK(symmetric.moving_kg * moved[0].back() == Approx(impulse).epsilon(0.03));  // the springs have acted for 2 ms
}

TEST_CASE("one seed makes one recording, and another seed another") {
  Scenario scenario = marrow_creek();
  auto volts = [&](std::uint64_t seed) {
    return simulate(scenario.rig, scenario.shaft, steady_spin(scenario, 0.2, seed)).channels[0].volts;
  };
  CHECK(volts(5) == volts(5));
  CHECK(volts(5) != volts(6));
}

TEST_CASE("the normal deviates have mean 0, variance 1 and a normal's tails") {
  Random random(1);
  const int count = 200000;
  double sum = 0.0, squares = 0.0;
  int beyond = 0;
  for (int i = 0; i < count; ++i) {
    double x = random.normal();
    sum += x;
    squares += x * x;
    beyond += std::abs(x) > 1.959964;
  }
  const double five_sigma = 5.0 / std::sqrt(count);
  CHECK(sum / count == Approx(0.0).margin(five_sigma));
  CHECK(squares / count == Approx(1.0).margin(std::sqrt(2.0) * five_sigma));
  CHECK(beyond / static_cast<double>(count) == Approx(0.05).margin(0.22 * five_sigma));
}
