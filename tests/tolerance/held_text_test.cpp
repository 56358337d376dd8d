// A residual and its limit as people read them: common sense of a certificate, no source but GUM 7.2.6 for the digits.
#include "counterspot/tolerance/held_text.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "counterspot/units/units.hpp"

using namespace counterspot;

namespace {

Held held_of(double residual, double expanded, double limit) {
  Held held{{"A"}, residual * kg_m_per_g_mm, 0.5 * expanded * kg_m_per_g_mm, limit * kg_m_per_g_mm};
  held.verdict = verdict_of(held.residual_kg_m, held.u_residual_kg_m, held.limit_kg_m);
  return held;
}

std::string text(double residual, double expanded, double limit, UnitSystem units = UnitSystem::metric) {
  const HeldText shown = held_text(held_of(residual, expanded, limit), units);
  return shown.residual + " of " + shown.limit;
}

std::size_t decimals(const std::string& number) {
  const auto point = number.find('.');
  return point == std::string::npos ? 0 : number.size() - point - 1;
}

}  // namespace

TEST_CASE("a limit has the decimals of the residual that is held against it") {
  CHECK(text(38.07, 0.96, 39.4) == "38.07 ± 0.96 of 39.40");
  CHECK(text(1393.2, 53.6, 343.4) == "1393 ± 54 of 343");
  CHECK(text(1234.0, 112.8, 348.6) == "1230 ± 110 of 349");
  CHECK(text(38.07, 0.0, 348.548) == "38.1 of 348.5");  // no uncertainty is known
  CHECK(text(38.07, 0.96, 348.548, UnitSystem::inch) == "0.0529 ± 0.0013 of 0.4840");
}

TEST_CASE("where rounding would contradict the verdict, there are more digits") {
  // Rounded to two digits it would read 38.08 ± 0.96, limit 39.03: outside of its own rule.
  CHECK(text(38.0751, 0.9551, 39.031) == "38.075 ± 0.955 of 39.031");
}

TEST_CASE("of ten thousand residuals close to their limits, none reads otherwise than its verdict") {
  std::mt19937 random(21);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  for (int i = 0; i < 10000; ++i) {
    const double limit = std::pow(10.0, 3.0 * share(random));
    const double expanded = limit * 0.2 * share(random);
    const double edge = i % 2 == 0 ? limit - expanded : limit + expanded;
    const Held held = held_of(edge + limit * 1e-3 * (share(random) - 0.5), expanded, limit);
    for (const UnitSystem units : {UnitSystem::metric, UnitSystem::inch}) {
      const HeldText shown = held_text(held, units);
      CAPTURE(shown.residual, shown.limit);
      const auto sign = shown.residual.find(" ± ");
      REQUIRE(sign != std::string::npos);
      const double read = std::stod(shown.residual);
      const double plus = std::stod(shown.residual.substr(sign + 4));
      const double most = std::stod(shown.limit);
      const double nothing = 1e-9 * most;  // of decimals in binary
      if (held.verdict == Verdict::within) CHECK(read + plus <= most + nothing);
      if (held.verdict == Verdict::outside) CHECK(read - plus > most - nothing);
      if (held.verdict == Verdict::unsure) CHECK((read + plus >= most - nothing && read - plus <= most + nothing));
      CHECK(decimals(shown.residual.substr(0, sign)) == decimals(shown.limit));
    }
  }
}
