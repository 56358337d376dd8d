#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "counterspot/units/angle.hpp"
#include "tach/states.hpp"

using namespace counterspot;

namespace {

std::vector<double> pulse_train(double low, double high, std::size_t period, std::size_t width, std::size_t count,
                                double noise) {
  std::mt19937 generator(4);
  std::normal_distribution<double> normal(0.0, 1.0);
  std::vector<double> signal(count);
  for (std::size_t n = 0; n < count; ++n) signal[n] = (n % period < width ? high : low) + noise * normal(generator);
  return signal;
}

}  // namespace

TEST_CASE("the states of a clean pulse train are its two levels") {
  const auto states = find_states(pulse_train(0.2, 4.8, 500, 20, 20000, 0.0));
  REQUIRE(states);
  CHECK(states->low == Approx(0.2).margin(1e-12));
  CHECK(states->high == Approx(4.8).margin(1e-12));
  CHECK(states->noise == Approx(0.0).margin(1e-12));
}

TEST_CASE("the states of a noisy pulse train lie within a tenth of the noise, and the noise is found") {
  const double noise = 0.15;
  const auto states = find_states(pulse_train(-1.0, 2.0, 400, 40, 40000, noise));
  REQUIRE(states);
  CHECK(states->low == Approx(-1.0).margin(0.1 * noise));
  CHECK(states->high == Approx(2.0).margin(0.2 * noise));  // ten times fewer samples than the low state
  CHECK(states->noise == Approx(noise).epsilon(0.1));
}

TEST_CASE("a few spikes do not move the states") {
  auto signal = pulse_train(0.0, 5.0, 500, 20, 40000, 0.01);
  for (std::size_t n = 100; n < signal.size(); n += 8000) signal[n] = 60.0;
  const auto states = find_states(signal);
  REQUIRE(states);
  CHECK(states->high == Approx(5.0).margin(0.02));
}

TEST_CASE("noise, a constant and a short stretch have no two states") {
  std::mt19937 generator(9);
  std::normal_distribution<double> normal(0.0, 1.0);
  std::uniform_real_distribution<double> uniform(-1.0, 1.0);
  std::vector<double> gaussian(20000);
  std::vector<double> flat(20000);
  for (double& v : gaussian) v = normal(generator);
  for (double& v : flat) v = uniform(generator);
  CHECK_FALSE(find_states(gaussian));
  CHECK_FALSE(find_states(flat));
  CHECK_FALSE(find_states(std::vector<double>(20000, 1.25)));
  CHECK_FALSE(find_states(std::vector<double>{0.0, 5.0, 0.0, 5.0}));
}

TEST_CASE("a magnetic pick-up's sine has two states, its level is in the middle") {
  std::vector<double> sine(20000);
  for (std::size_t n = 0; n < sine.size(); ++n)
    sine[n] = 1.0 + 3.0 * std::sin(turn_rad * static_cast<double>(n) / 321.7);
  const auto states = find_states(sine);
  REQUIRE(states);
  CHECK(0.5 * (states->low + states->high) == Approx(1.0).margin(0.02));
}
