#include "counterspot/tolerance/held_text.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/units/measured.hpp"
#include "counterspot/units/units.hpp"

namespace counterspot {

namespace {

constexpr int most_more_places = 6;  // what a double can tell apart, of numbers of a few digits

/// Numbers in one unit.
struct Shown {
  double residual = 0.0, expanded = 0.0, limit = 0.0;

  HeldText text(int place) const {
    const std::string value = rounded_text(residual, place);
    return {expanded > 0.0 ? value + " ± " + rounded_text(expanded, place) : value,
            rounded_text(limit, std::min(place, 0))};
  }
  Verdict verdict(int place) const {
    const auto read = [](double number, int at) { return std::stod(rounded_text(number, at)); };
    return verdict_of(read(residual, place), read(expanded, place) / coverage_factor, read(limit, std::min(place, 0)));
  }
};

/// Of the residual's last digit: by its uncertainty; else four digits, of the larger of the two.
int first_place(const Shown& shown) {
  if (shown.expanded > 0.0) return last_place(shown.expanded);
  return static_cast<int>(std::floor(std::log10(std::max(shown.residual, shown.limit)))) - 3;
}

}  // namespace

std::string_view unbalance_unit(UnitSystem units) {
  return units == UnitSystem::metric ? "g·mm" : "oz·in";
}

double unbalance_in(UnitSystem units, double unbalance_kg_m) {
  return units == UnitSystem::metric ? in_g_mm(unbalance_kg_m) : in_oz_in(unbalance_kg_m);
}

std::string unbalance_text(double value_kg_m, double expanded_kg_m, UnitSystem units) {
  return measured_text(unbalance_in(units, value_kg_m), unbalance_in(units, expanded_kg_m)) + " " +
         std::string(unbalance_unit(units));
}

std::string unbalance_text(double value_kg_m, UnitSystem units) {
  const double value = unbalance_in(units, value_kg_m);
  return (value < 100.0 ? significant_text(value, 3) : rounded_text(value, 0)) + " " +
         std::string(unbalance_unit(units));
}

HeldText held_text(const Held& held, UnitSystem units) {
  const Shown shown{unbalance_in(units, held.residual_kg_m),
                    coverage_factor * unbalance_in(units, held.u_residual_kg_m), unbalance_in(units, held.limit_kg_m)};
  if (!std::isfinite(shown.residual + shown.expanded + shown.limit) || !(shown.limit > 0.0)) {
    return {measured_text(shown.residual, shown.expanded), significant_text(shown.limit, 4)};
  }
  const Verdict verdict = verdict_of(held.residual_kg_m, held.u_residual_kg_m, held.limit_kg_m);
  int place = first_place(shown);
  for (int more = 0; more < most_more_places && shown.verdict(place) != verdict; ++more) --place;
  return shown.text(place);
}

}  // namespace counterspot
