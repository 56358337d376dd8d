// Numbers as people read them. Rounding by GUM (JCGM 100:2008) 7.2.6: two digits of an uncertainty, and the value to
// the same place.
#include "counterspot/units/measured.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

using namespace counterspot;

TEST_CASE("an uncertainty has two digits, and its value ends at the same place") {
  CHECK(measured_text(38.071, 0.963) == "38.07 ± 0.96");
  CHECK(measured_text(1393.2, 53.6) == "1393 ± 54");
  CHECK(measured_text(1234.0, 112.8) == "1230 ± 110");
  CHECK(measured_text(-0.004, 0.12) == "0.00 ± 0.12");
  CHECK(measured_text(12.345, 0.996) == "12.3 ± 1.0");  // two digits once it is rounded, too
  CHECK(measured_text(12.345, 99.6) == "10 ± 100");
  // GUM 7.2.6: 10.057 62 Ω with u = 27 mΩ is 10.058 Ω.
  CHECK(measured_text(10.05762, 0.027) == "10.058 ± 0.027");
}

TEST_CASE("no number is written with an exponent") {
  CHECK(significant_text(110.4, 2) == "110");
  CHECK(significant_text(0.00001234, 2) == "0.000012");
  CHECK(significant_text(99.7, 2) == "100");
  CHECK(significant_text(0.0, 2) == "0");
  CHECK(measured_text(123456.0, 0.0) == "123500");
  CHECK(measured_text(348.548, 0.0) == "348.5");
  CHECK(measured_text(348.548, std::numeric_limits<double>::quiet_NaN()) == "348.5");
}

TEST_CASE("over a thousand random uncertainties, what is shown is within half of its last place") {
  std::mt19937 random(20);
  std::uniform_real_distribution<double> power(-6.0, 6.0);
  for (int i = 0; i < 1000; ++i) {
    const double u = std::pow(10.0, power(random));
    const double value = u * std::pow(10.0, 0.5 * power(random));
    const std::string text = measured_text(value, u);
    CAPTURE(value, u, text);
    const double step = std::pow(10.0, last_place(u));
    const auto sign = text.find(" ± ");
    REQUIRE(sign != std::string::npos);
    CHECK(std::abs(std::stod(text) - value) <= 0.5001 * step);
    const double shown = std::stod(text.substr(sign + 4));
    CHECK(std::abs(shown - u) <= 0.5001 * step);
    CHECK(shown / step >= 9.99);
    CHECK(shown / step <= 99.01);
    CHECK(text.find('e') == std::string::npos);
  }
}
