#include "counterspot/units/units.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "counterspot/units/coverage.hpp"
#include "counterspot/units/error.hpp"
#include "units/typed.hpp"

using namespace counterspot;

namespace {
constexpr double rounding = 1e-14;  // relative: a handful of double roundings
Approx near(double value) {
  return Approx(value).epsilon(rounding);
}
}  // namespace

// Source of the numbers: NIST Special Publication 811 (2008), appendix B (exact factors).
TEST_CASE("units are those of NIST SP 811") {
  CHECK(parse_quantity("1 lb", Dimension::mass) == near(0.45359237));
  CHECK(parse_quantity("1 in", Dimension::length) == near(0.0254));
  CHECK(parse_quantity("1 mil", Dimension::length) == near(25.4e-6));
  CHECK(parse_quantity("1 in/s", Dimension::velocity) == near(25.4e-3));
  CHECK(parse_quantity("1 g", Dimension::acceleration) == near(9.80665));
  CHECK(parse_quantity("1 lbf", Dimension::force) == near(4.4482216152605));
  CHECK(parse_quantity("1 oz·in", Dimension::unbalance) / kg_m_per_g_mm ==
        Approx(720.0779).epsilon(1e-6));  // 4 printed decimals
  CHECK(parse_quantity("60 rpm", Dimension::speed) == near(turn_rad));
  CHECK(parse_quantity("180 deg", Dimension::angle) == near(pi));
}

TEST_CASE("every usual spelling of a unit is the same unit") {
  for (const char* text :
       {"40 g·mm", "40 g-mm", "40 g.mm", "40 g mm", "40g*mm", " 40  g mm ", "40,0 g·mm", "+40 g⋅mm"}) {
    CAPTURE(text);
    CHECK(parse_quantity(text, Dimension::unbalance) == near(40e-6));
  }
  CHECK(parse_quantity("8 um", Dimension::length) == parse_quantity("8 µm", Dimension::length));
  CHECK(parse_quantity("2 m/s2", Dimension::acceleration) == parse_quantity("2 m/s²", Dimension::acceleration));
  CHECK(parse_quantity("2 m/s^2", Dimension::acceleration) == 2.0);
  CHECK(parse_quantity("3\"", Dimension::length) == parse_quantity("3 in", Dimension::length));
  CHECK(parse_quantity("2 %", Dimension::fraction) == near(0.02));
  CHECK(parse_quantity("0.02", Dimension::fraction) == 0.02);
}

TEST_CASE("a bare number where a unit is needed is an error that names the units") {
  try {
    parse_quantity("14.6", Dimension::mass);
    FAIL("a mass without a unit was taken");
  } catch (const Error& error) {
    CHECK(error.trouble() == Trouble::request);
    CHECK(std::string(error.what()) == "'14.6' has no unit, and a mass needs one");
    CHECK(error.remedy() == "add the unit; taken are g, kg, mg, oz, lb");
  }
}

TEST_CASE("a quantity of another dimension, text, infinity and nothing are refused") {
  for (const char* text :
       {"14.6 rpm", "kg", "", "   ", "nan kg", "inf kg", "1e999 kg", "1.2.3 kg", "12 KG", "1,000.5 kg"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(parse_quantity(text, Dimension::mass), Error);
  }
}

TEST_CASE("a sensitivity says its kind of motion and its volts") {
  auto accelerometer = parse_sensitivity("100 mV/g");
  CHECK(accelerometer.motion == Motion::acceleration);
  CHECK(accelerometer.volts_per_si == near(0.1 / 9.80665));
  CHECK(parse_sensitivity("10.2 mV/(m/s2)").volts_per_si == near(0.0102));
  CHECK(parse_sensitivity("20 mV/(mm/s)").motion == Motion::velocity);
  CHECK(parse_sensitivity("20 mV/(mm/s)").volts_per_si == near(20.0));
  CHECK(parse_sensitivity("8 mV/um").volts_per_si == near(8000.0));
  CHECK_THROWS_AS(parse_sensitivity("100 mV"), Error);
  CHECK(parse_sensitivity("-100 mV/g").volts_per_si == near(-0.1 / 9.80665));  // a sensor that is turned over
  CHECK(parse_sensitivity("unknown").motion == Motion::unscaled);              // what it gives is volts
  CHECK(parse_sensitivity("unknown").volts_per_si == 1.0);
  CHECK(parse_sensitivity("-unknown").volts_per_si == -1.0);
  CHECK_THROWS_AS(parse_sensitivity("0 mV/g"), Error);
  CHECK_THROWS_AS(parse_sensitivity("100 g/mV"), Error);
}

TEST_CASE("a typed vector has size, phase lag and perhaps an uncertainty") {
  auto vector = parse_vector("6.0 mm/s @ 35 deg ± 0.1 mm/s");
  CHECK(vector.motion == Motion::velocity);
  CHECK(std::abs(vector.value) == near(6.0e-3));
  CHECK(direction_deg(vector.value) == near(35.0));
  CHECK(vector.standard_uncertainty.value() == near(0.05e-3));  // a ± is twice the standard uncertainty: GUM, 6.2
  CHECK_FALSE(parse_vector("2 mil @ 10 deg").standard_uncertainty.has_value());
  CHECK(parse_vector("2 g @ 10 deg +- 0.1 m/s2").standard_uncertainty.value() == near(0.05));
  for (const char* text : {"6.0 mm/s", "6.0 @ 35 deg", "6 mm/s @ 35", "-6 mm/s @ 3 deg", "6 mm/s @ 3 deg ± 0.1 um"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(parse_vector(text), Error);
  }
}

TEST_CASE("a reading that is typed as it was shown has the uncertainty that it had, with and without a phase") {
  // Shown: amplitude ± 2u, as every command shows it.
  for (double u_mm_s : {0.004, 0.05, 1.7}) {
    const std::string shown = fmt::format("{:.6f} mm/s", coverage_factor * u_mm_s);
    CHECK(parse_vector("6.0 mm/s @ 35 deg ± " + shown).standard_uncertainty.value() == near(u_mm_s * 1e-3));
    for (const char* sign : {"±", "+-", "+/-"}) {
      const TypedVector amplitude = parse_amplitude(fmt::format("6.0 mm/s {} {}", sign, shown));
      CHECK(std::abs(amplitude.value) == near(6.0e-3));
      CHECK(amplitude.standard_uncertainty.value() == near(u_mm_s * 1e-3));
    }
  }
  CHECK_FALSE(parse_amplitude("6.0 mm/s").standard_uncertainty.has_value());
}

TEST_CASE("what is shown in a display unit is read back as the same quantity") {
  for (Motion motion : {Motion::acceleration, Motion::velocity, Motion::displacement}) {
    auto unit = find_motion_unit(display_unit(motion));
    REQUIRE(unit.has_value());
    CHECK(unit->motion == motion);
    CHECK(unit->si_per_unit == si_per_display_unit(motion));
  }
  CHECK(find_voltage_unit(display_unit(Motion::unscaled)) == si_per_display_unit(Motion::unscaled));
  const TypedVector volts = parse_vector("12 mV @ 35 deg ± 1 mV");
  CHECK(volts.motion == Motion::unscaled);
  CHECK(std::abs(volts.value) == near(0.012));
}
