#include "counterspot/units/units.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/units/coverage.hpp"
#include "counterspot/units/error.hpp"
#include "units/text.hpp"
#include "units/typed.hpp"
#include "units/unit_table.hpp"

namespace counterspot {

namespace {

Error bad_quantity(std::string_view text, std::string_view trouble, std::string_view remedy) {
  return {Trouble::request, "bad_quantity", fmt::format("'{}' {}", text, trouble), std::string(remedy)};
}

struct NumberAndUnit {
  double number = 0.0;
  std::string_view unit;
};

/// Splits "14,6 kg" into 14.6 and "kg". A comma is a decimal comma; there is no thousands separator.
NumberAndUnit split(std::string_view text, std::string_view expected) {
  std::string_view rest = trimmed(text);
  if (rest.starts_with('+')) rest.remove_prefix(1);
  std::string plain(rest);
  std::replace(plain.begin(), plain.end(), ',', '.');
  NumberAndUnit parts;
  auto [end, trouble] = fast_float::from_chars(plain.data(), plain.data() + plain.size(), parts.number);
  if (trouble != std::errc() || !std::isfinite(parts.number)) {
    throw bad_quantity(text, fmt::format("is not {}: it does not begin with a number", expected),
                       "write a number and its unit, such as \"14.6 kg\"");
  }
  parts.unit = trimmed(rest.substr(static_cast<std::size_t>(end - plain.data())));
  return parts;
}

struct MotionDimension {
  Motion motion;
  Dimension dimension;
};
constexpr MotionDimension motions[] = {{Motion::acceleration, Dimension::acceleration},
                                       {Motion::velocity, Dimension::velocity},
                                       {Motion::displacement, Dimension::length}};

std::string motion_units_taken() {
  return fmt::format("{}; {}; {}", units_taken(Dimension::acceleration), units_taken(Dimension::velocity),
                     units_taken(Dimension::length));
}

std::string_view without_brackets(std::string_view unit) {
  unit = trimmed(unit);
  if (unit.size() >= 2 && unit.front() == '(' && unit.back() == ')') unit = unit.substr(1, unit.size() - 2);
  return unit;
}

/// A magnitude of motion, such as "6.0 mm/s".
struct MotionValue {
  MotionUnit unit;
  double value_si = 0.0;
};

MotionValue parse_motion(std::string_view text, std::string_view whole) {
  NumberAndUnit parts = split(text, "a vibration");
  auto unit = find_motion_unit(parts.unit);
  if (const auto volts = find_voltage_unit(parts.unit)) unit = MotionUnit{Motion::unscaled, *volts};
  if (!unit) {
    throw Error(Trouble::request, "bad_vector",
                fmt::format("'{}' has no unit of vibration after its size", std::string(whole)),
                fmt::format("write it like \"6.0 mm/s @ 35 deg\"; units taken: {}; of a sensor whose sensitivity is "
                            "unknown {}",
                            motion_units_taken(), units_taken(Dimension::voltage)));
  }
  return {*unit, parts.number * unit->si_per_unit};
}

/// Where "±", "+-" or "+/-" stands, and how long it is.
std::pair<std::size_t, std::size_t> find_plus_minus(std::string_view text) {
  for (std::string_view sign : {"\xC2\xB1", "+/-", "+-"}) {
    auto at = text.find(sign);
    if (at != std::string_view::npos) return {at, sign.size()};
  }
  return {std::string_view::npos, 0};
}

}  // namespace

double parse_quantity(std::string_view text, Dimension dimension) {
  const auto name = dimension_name(dimension);
  NumberAndUnit parts = split(text, name);
  if (parts.unit.empty() && dimension != Dimension::fraction) {
    throw bad_quantity(text, fmt::format("has no unit, and {} needs one", name),
                       fmt::format("add the unit; taken are {}", units_taken(dimension)));
  }
  const Unit* unit = find_unit(parts.unit, dimension);
  if (unit == nullptr) {
    throw bad_quantity(text, fmt::format("is not {}: unit '{}' is not one of its units", name, parts.unit),
                       fmt::format("units taken are {}", units_taken(dimension)));
  }
  return parts.number * unit->si_per_unit;
}

TypedSize parse_size_with_plus_minus(std::string_view text, Dimension dimension) {
  const auto [at, length] = find_plus_minus(text);
  if (at == std::string_view::npos) return {parse_quantity(text, dimension), std::nullopt};
  return {parse_quantity(text.substr(0, at), dimension), parse_quantity(text.substr(at + length), dimension)};
}

std::string_view motion_name(Motion motion) {
  switch (motion) {
    case Motion::acceleration: return "acceleration";
    case Motion::velocity: return "velocity";
    case Motion::displacement: return "displacement";
    case Motion::unscaled: return "voltage";
  }
  return "motion";
}

std::optional<MotionUnit> find_motion_unit(std::string_view unit) {
  for (const auto& [motion, dimension] : motions) {
    if (const Unit* found = find_unit(unit, dimension)) return MotionUnit{motion, found->si_per_unit};
  }
  return std::nullopt;
}

std::optional<double> find_voltage_unit(std::string_view unit) {
  const Unit* found = find_unit(unit, Dimension::voltage);
  if (found == nullptr) return std::nullopt;
  return found->si_per_unit;
}

Sensitivity parse_sensitivity(std::string_view text) {
  const std::string_view bare = trimmed(text);
  if (bare == "unknown") return {Motion::unscaled, 1.0};
  if (bare == "-unknown") return {Motion::unscaled, -1.0};
  const std::string remedy =
      fmt::format("write it like \"100 mV/g\"; volts over one of {}; or \"unknown\"", motion_units_taken());
  NumberAndUnit parts = split(text, "a sensitivity");
  auto slash = parts.unit.find('/');
  if (slash == std::string_view::npos) throw bad_quantity(text, "is not a sensitivity: it has no '/'", remedy);
  auto volts = find_voltage_unit(parts.unit.substr(0, slash));
  auto motion = find_motion_unit(without_brackets(parts.unit.substr(slash + 1)));
  if (!volts || !motion) throw bad_quantity(text, "is not a sensitivity: its unit is unknown", remedy);
  if (parts.number == 0.0) throw bad_quantity(text, "is not a sensitivity: it must not be zero", remedy);
  return {motion->motion, parts.number * *volts / motion->si_per_unit};
}

TypedVector parse_vector(std::string_view text) {
  auto at = text.find('@');
  if (at == std::string_view::npos) {
    throw Error(Trouble::request, "bad_vector", fmt::format("'{}' has no '@' between size and phase lag", text),
                "write it like \"6.0 mm/s @ 35 deg\"");
  }
  std::string_view angle = text.substr(at + 1);
  auto [plus_minus, length] = find_plus_minus(angle);
  MotionValue size = parse_motion(text.substr(0, at), text);
  if (size.value_si < 0.0) {
    throw Error(Trouble::request, "bad_vector", fmt::format("'{}' has a size below zero", text),
                "write a size of zero or more and turn the phase lag by 180 deg");
  }
  TypedVector vector;
  vector.motion = size.unit.motion;
  vector.value = phasor_at(size.value_si, parse_quantity(angle.substr(0, plus_minus), Dimension::angle));
  if (plus_minus == std::string_view::npos) return vector;
  MotionValue spread = parse_motion(angle.substr(plus_minus + length), text);
  if (spread.unit.motion != vector.motion || spread.value_si < 0.0) {
    throw Error(Trouble::request, "bad_vector",
                fmt::format("'{}' has an uncertainty of another kind than its size", text),
                "give the uncertainty in a unit of the same kind, zero or more");
  }
  vector.standard_uncertainty = spread.value_si / coverage_factor;
  return vector;
}

TypedVector parse_amplitude(std::string_view text) {
  const std::string_view size = text.substr(0, find_plus_minus(text).first);
  return parse_vector(fmt::format("{} @ 0 deg {}", size, text.substr(size.size())));
}

std::string_view display_unit(Motion motion) {
  switch (motion) {
    case Motion::acceleration: return "m/s2";
    case Motion::velocity: return "mm/s";
    case Motion::displacement: return "um";
    case Motion::unscaled: return "V";
  }
  return "";
}

double si_per_display_unit(Motion motion) {
  switch (motion) {
    case Motion::unscaled:
    case Motion::acceleration: return 1.0;
    case Motion::velocity: return 1e-3;
    case Motion::displacement: return 1e-6;
  }
  return 1.0;
}

}  // namespace counterspot
