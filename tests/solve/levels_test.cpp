#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/solve/repeats.hpp"

using namespace counterspot;

namespace {

const std::vector<std::string> sensors = {"A", "B"};
const std::vector<double> edges_Hz = {10, 20, 40, 80, 160, 320, 640, 1024};
constexpr double by_chance = 0.05;

/// A spin whose sensors make noise of these levels, in a spectrum of their own, measured to 5 %.
SpinReading spin(const std::string& label, double level_a, double level_b, unsigned seed) {
  std::mt19937 generator(seed);
  std::normal_distribution<double> normal(0.0, by_chance);
  SpinReading reading{label, {}, {1.0, 1.0}, {}, 170.0};
  for (const auto& [level, slope] : {std::pair(level_a, 0.3), std::pair(level_b, -0.2)}) {
    SensorLevel sensor;
    for (std::size_t b = 0; b + 1 < edges_Hz.size(); ++b) {
      const double rms = level * std::pow(edges_Hz[b] / 100.0, slope) * std::exp(normal(generator));
      sensor.bands.push_back({edges_Hz[b], edges_Hz[b + 1], rms, by_chance});
    }
    reading.levels.push_back(sensor);
  }
  return reading;
}

std::vector<SpinReading> sound_spins(unsigned seed) {
  return {spin("as found", 1.0, 1.4, seed), spin("trial at A", 1.0, 1.4, seed + 1),
          spin("trial at B", 1.0, 1.4, seed + 2), spin("corrected", 1.0, 1.4, seed + 3)};
}

void multiply(SpinReading& reading, std::size_t sensor, double factor) {
  for (NoiseBand& band : reading.levels[sensor].bands) band.rms *= factor;
}

}  // namespace

TEST_CASE("a sensor whose noise is half or twice of what it is in the other spins is named, in whichever spin") {
  for (const double factor : {0.1, 0.5, 2.0, 10.0}) {
    for (std::size_t k = 0; k < 4; ++k) {
      for (std::size_t s = 0; s < 2; ++s) {
        auto spins = sound_spins(static_cast<unsigned>(10 * k + s));
        multiply(spins[k], s, factor);
        INFO("factor " << factor << ", " << spins[k].label << ", sensor " << sensors[s]);
        const Warnings said = compare_levels(spins, sensors);
        REQUIRE(said.size() == 1);
        CHECK(said[0].code == WarningCode::sensor_changed);
        CHECK(said[0].sensor == sensors[s]);
        CHECK(said[0].spins == std::vector<std::string>{spins[k].label});
      }
    }
  }
}

TEST_CASE("both sensors at half their gain in the last spin are both named, also with three spins or two") {
  for (const std::size_t count : {4U, 3U, 2U}) {
    auto spins = sound_spins(70);
    spins.resize(count);
    multiply(spins.back(), 0, 0.5);
    multiply(spins.back(), 1, 0.5);
    const Warnings said = compare_levels(spins, sensors);
    REQUIRE(said.size() == 2);
    CHECK(said[0].spins == std::vector<std::string>{spins.back().label});
    CHECK(said[1].sensor == "B");
  }
}

TEST_CASE("cables that were exchanged in one spin show in the noise of the two sensors") {
  auto spins = sound_spins(90);
  std::swap(spins[1].levels[0], spins[1].levels[1]);
  const Warnings said = compare_levels(spins, sensors);
  REQUIRE(said.size() == 1);
  CHECK(said[0].code == WarningCode::swapped_sensors);
  CHECK(said[0].sensors == sensors);
  CHECK(said[0].spins == std::vector<std::string>{"trial at A"});
}

TEST_CASE("the rig's own noise may change: twice as much in one band, a tenth more in all, another speed") {
  int said = 0;
  for (unsigned seed = 0; seed < 200; ++seed) {
    auto spins = sound_spins(1000 + 10 * seed);
    spins[seed % 4].levels[seed % 2].bands[seed % 7].rms *= 2.0;
    multiply(spins[3], 0, 1.1);
    multiply(spins[3], 1, 1.1);
    spins[2].speed_rad_s = 171.7;  // 1 % more
    said += compare_levels(spins, sensors).empty() ? 0 : 1;
  }
  CHECK(said <= 2);  // 1 %
}

TEST_CASE("another spectrum is a sensor that changed only from a factor of three on") {
  auto spins = sound_spins(300);
  for (std::size_t b = 0; b < 7; ++b) spins[3].levels[0].bands[b].rms *= b % 2 == 0 ? 1.2 : 3.0;
  CHECK(compare_levels(spins, sensors).empty());
  for (std::size_t b = 0; b < 7; ++b) spins[3].levels[0].bands[b].rms *= 4.0;
  CHECK(compare_levels(spins, sensors).size() == 1);
}

TEST_CASE("a job's first spin is held against earlier jobs on the rig, and spins without levels against nothing") {
  const std::vector<SpinReading> earlier = sound_spins(400);
  std::vector<SpinReading> first = {spin("as found", 1.0, 0.14, 410)};
  const Warnings said = compare_levels(first, sensors, earlier);
  REQUIRE(said.size() == 1);
  CHECK(said[0].sensor == "B");
  multiply(first[0], 1, 5.0);  // half of what it was: earlier jobs are other shafts
  CHECK(compare_levels(first, sensors, earlier).empty());
  first[0].levels.clear();
  CHECK(compare_levels(first, sensors, earlier).empty());
}

TEST_CASE("what spins repeat by is learnt from neighbouring spins of the same weights, beyond their noise") {
  std::mt19937 generator(5);
  std::normal_distribution<double> normal(0.0, 1.0);
  std::vector<std::vector<SpinReading>> jobs;
  CHECK_FALSE(repeat_fraction_of(jobs));
  constexpr double scatter = 0.03;
  constexpr double noise = 0.005;
  for (int i = 0; i < 100; ++i) {
    std::vector<SpinReading> spins(2, SpinReading{"spin", {}, {2.0, Phasor(0.0, 3.0)}, {}, 170.0});
    for (SpinReading& reading : spins) {
      for (Phasor& z : reading.vectors) {
        z *= 1.0 + scatter * Phasor(normal(generator), normal(generator));
        z += noise * Phasor(normal(generator), normal(generator));
        reading.covariances.emplace_back(noise * noise * Eigen::Matrix2d::Identity());
      }
    }
    jobs.push_back(spins);
  }
  REQUIRE(repeat_fraction_of(jobs));
  // 400 degrees of freedom: to 3.5 % of itself, one standard deviation; the enlargement is under 1 %
  CHECK(*repeat_fraction_of(jobs) == Approx(scatter).epsilon(0.11));
  jobs.resize(2);
  CHECK_FALSE(repeat_fraction_of(jobs));  // four pairs say too little
}
