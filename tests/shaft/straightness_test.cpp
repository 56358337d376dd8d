#include "counterspot/shaft/straightness.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/units/error.hpp"

using namespace counterspot;

namespace {

DialStation read_station(double z, Phasor bow, Phasor oval, int angles, double noise, std::mt19937& random) {
  std::normal_distribution<double> scatter(0.0, noise);
  DialStation station{z, {}};
  for (int i = 0; i < angles; ++i) {
    const double b = turn_rad * i / angles;
    const double height = 3e-3 + std::real(bow * std::polar(1.0, -b)) + std::real(oval * std::polar(1.0, -2 * b));
    station.readings.push_back({b, height + (noise > 0 ? scatter(random) : 0.0)});
  }
  return station;
}

Beam uniform_tube(double length) {
  return {{{0.0, length, 0.0762, 0.0720, material_named("steel")}}, {}, {{0.0, {}}, {length, {}}}};
}

StationFit fitted(double z, Phasor bow) {
  StationFit fit;
  fit.position_m = z;
  fit.bow_m = bow;
  return fit;
}

double mass_per_m() {
  return 7850.0 * pi / 4 * (0.0762 * 0.0762 - 0.0720 * 0.0720);
}

}  // namespace

TEST_CASE("a known bow is recovered from dial readings, with the noise that theory allows") {
  std::mt19937 random(20240601);
  const Phasor bow = std::polar(0.20e-3, radians(137.0));
  for (int angles : {3, 4, 8, 12}) {
    const double noise = 0.01e-3;
    double squares = 0.0;
    const int repeats = 400;
    for (int i = 0; i < repeats; ++i) {
      auto fit = fit_straightness(
          {read_station(0.7, bow, angles >= 6 ? Phasor(0.03e-3, 0) : Phasor(), angles, noise, random)});
      squares += std::norm(fit.stations[0].bow_m - bow);
    }
    // Least squares on N even angles: variance of each part is 2σ²/N (any text on regression); two parts. 400 repeats
    // scatter by 5 % of the variance (one standard deviation), 20 % are four of them.
    CHECK(squares / repeats == Approx(2 * 2 * noise * noise / angles).epsilon(0.20));
  }
}

TEST_CASE("the stated uncertainty of a bow agrees with its scatter") {
  std::mt19937 random(7);
  const double noise = 0.02e-3;
  double variance = 0.0;
  for (int i = 0; i < 300; ++i) {
    auto fit = fit_straightness({read_station(0.7, 0.1e-3, 0.0, 12, noise, random)});
    REQUIRE(fit.stations[0].u_bow_m);
    variance += *fit.stations[0].u_bow_m * *fit.stations[0].u_bow_m / 300;
  }
  CHECK(variance == Approx(2 * noise * noise / 12).epsilon(0.2));  // as above
  CHECK_FALSE(fit_straightness({read_station(0.7, 0.1e-3, 0.0, 3, 0.0, random)}).stations[0].u_bow_m);
}

TEST_CASE("an oval tube is not a bent tube") {
  std::mt19937 random(1);
  auto fit = fit_straightness({read_station(0.7, 0.0, 0.15e-3, 12, 0.0, random)});
  CHECK(std::abs(fit.stations[0].bow_m) < 1e-12);
  CHECK(std::abs(fit.stations[0].out_of_round_m) == Approx(0.15e-3));
  CHECK(fit.stations[0].indicator_total_m == Approx(0.30e-3));
}

TEST_CASE("the indicator total is held against its limit and says where to press") {
  std::mt19937 random(1);
  auto bent = fit_straightness({read_station(0.3, std::polar(0.06e-3, radians(80.0)), 0.0, 4, 0.0, random),
                                read_station(1.1, std::polar(0.09e-3, radians(82.0)), 0.0, 4, 0.0, random),
                                read_station(0.7, std::polar(0.16e-3, radians(81.0)), 0.0, 8, 0.0, random)});
  CHECK_FALSE(bent.within);
  REQUIRE(bent.straighten);
  CHECK(bent.straighten->position_m == 0.7);
  CHECK(degrees(bent.straighten->high_side_rad) == Approx(81.0));
  CHECK(bent.straighten->bow_m == Approx(0.16e-3));
  // 0.010 in all along the tube is common practice: 0.12 mm of bow reads 0.24 mm.
  auto straight = fit_straightness({read_station(0.7, std::polar(0.12e-3, radians(90.0)), 0.0, 4, 0.0, random)});
  CHECK(straight.within);
  CHECK_FALSE(straight.straighten);
}

TEST_CASE("readings that cannot show a bow are refused") {
  CHECK_THROWS_AS(fit_straightness({}), Error);
  CHECK_THROWS_AS(fit_straightness({{0.7, {{0.0, 1e-3}, {pi, 2e-3}}}}), Error);
  CHECK_THROWS_AS(fit_straightness({{0.7, {{0.0, 1e-3}, {turn_rad, 2e-3}, {pi, 0.0}}}}),
                  Error);  // 0 and 360 are one spot
  CHECK_THROWS_AS(fit_straightness({{0.7, {{0.0, 1e-3}, {radians(2), 2e-3}, {radians(4), 0.0}}}}),
                  Error);  // all on one side
}

TEST_CASE("a bow alone makes the unbalance that integrals by hand say") {
  // A kink e at the middle of a uniform tube: triangle, ∫μe dz = μLe/2, half to each end by symmetry.
  const double length = 1.4;
  const Phasor bow = std::polar(0.5e-3, radians(30.0));
  StraightnessSummary kink;
  kink.stations = {fitted(0.7, bow)};
  auto u = unbalance_of_bow(kink, uniform_tube(length), 0.0, length);
  CHECK(std::abs(u.a_kg_m - mass_per_m() * length * bow / 4.0) < 1e-12);
  CHECK(std::abs(u.b_kg_m - mass_per_m() * length * bow / 4.0) < 1e-12);

  // A kink at a third (z = c): first moment about A is μe·L(L + c)/6, so U_B = μe(L + c)/6, U_A = μe(2L − c)/6.
  const double c = length / 3.0;
  kink.stations = {fitted(c, bow)};
  u = unbalance_of_bow(kink, uniform_tube(length), 0.0, length);
  CHECK(std::abs(u.a_kg_m - mass_per_m() * bow * (2 * length - c) / 6.0) < 1e-12);
  CHECK(std::abs(u.b_kg_m - mass_per_m() * bow * (length + c) / 6.0) < 1e-12);

  // A half sine, read at 41 stations: ∫ = 2μLe/π, half each; the polyline falls short by about (π/40)²/12.
  StraightnessSummary sine;
  for (int i = 0; i <= 40; ++i) sine.stations.push_back(fitted(length * i / 40.0, bow * std::sin(pi * i / 40.0)));
  u = unbalance_of_bow(sine, uniform_tube(length), 0.0, length);
  CHECK(std::abs(u.a_kg_m) == Approx(mass_per_m() * length * 0.5e-3 / pi).epsilon(1e-3));

  // Planes inside the ends carry the same force and moment.
  kink.stations = {fitted(c, bow)};
  const auto inner = unbalance_of_bow(kink, uniform_tube(length), 0.2, 1.1);
  const auto outer = unbalance_of_bow(kink, uniform_tube(length), 0.0, length);
  CHECK(std::abs(inner.a_kg_m + inner.b_kg_m - outer.a_kg_m - outer.b_kg_m) < 1e-12);
  CHECK(std::abs(0.2 * inner.a_kg_m + 1.1 * inner.b_kg_m - length * outer.b_kg_m) < 1e-12);
}
