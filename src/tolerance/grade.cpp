#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "counterspot/tolerance/tolerance.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

// ISO 21940-11:2016, Table 1: balance quality grades, mm/s, each 2.5 times the one before.
constexpr std::array grades_mm_s = {0.4, 1.0, 2.5, 6.3, 16.0, 40.0, 100.0, 250.0, 630.0, 1600.0, 4000.0};

}  // namespace

double grade_m_s(std::string_view grade) {
  std::string_view number = grade;
  if (number.starts_with('G') || number.starts_with('g')) number.remove_prefix(1);
  while (number.starts_with(' ')) number.remove_prefix(1);
  double value = 0.0;
  auto [end, trouble] = fast_float::from_chars(number.data(), number.data() + number.size(), value);
  bool whole = trouble == std::errc() && end == number.data() + number.size();
  if (!whole || std::find(grades_mm_s.begin(), grades_mm_s.end(), value) == grades_mm_s.end()) {
    throw Error(Trouble::request, "bad_grade",
                fmt::format("'{}' is not a balance quality grade of ISO 21940-11", grade),
                fmt::format("the grades are G{}", fmt::join(grades_mm_s, ", G")));
  }
  return value * 1e-3;
}

double permissible_unbalance_kg_m(double grade_m_s, double mass_kg, double service_speed_rad_s) {
  return grade_m_s * mass_kg / service_speed_rad_s;
}

Shares shares_between_supports(const Supports& supports) {
  double center = supports.center_of_mass_m.value_or((supports.a_m + supports.b_m) / 2.0);
  double share_a = (supports.b_m - center) / (supports.b_m - supports.a_m);
  if (!(share_a >= 0.0 && share_a <= 1.0)) {
    throw Error(
        Trouble::request, "overhung",
        "the centre of mass lies outside the supports, and the standard's shares do not hold for an overhung rotor",
        "type the limit of each plane instead of a grade: limit = { A = \"40 g·mm\", B = \"40 g·mm\" }");
  }
  // ISO 21940-11: no tolerance plane of a rotor between its bearings gets less than 0.3 or more than 0.7 of the whole.
  double kept = std::clamp(share_a, 0.3, 0.7);
  return {kept, 1.0 - kept, kept != share_a};
}

}  // namespace counterspot
