#include "units/unit_table.hpp"

#include <cctype>
#include <utility>

#include "units/text.hpp"

namespace counterspot {

namespace {

using enum Dimension;

constexpr double kg_per_lb = 0.45359237;                          // NIST SP 811, exact
constexpr double n_per_lbf = kg_per_lb * standard_gravity_m_s2;   // NIST SP 811
constexpr double pa_per_psi = n_per_lbf / (m_per_in * m_per_in);  // NIST SP 811

constexpr Unit units[] = {
    {"g", mass, 1e-3},
    {"kg", mass, 1.0},
    {"mg", mass, 1e-6},
    {"oz", mass, kg_per_oz},
    {"lb", mass, kg_per_lb},
    {"mm", length, 1e-3},
    {"m", length, 1.0},
    {"cm", length, 1e-2},
    {"um", length, 1e-6},
    {"in", length, m_per_in},
    {"inch", length, m_per_in},
    {"ft", length, 12.0 * m_per_in},
    {"mil", length, 1e-3 * m_per_in},
    {"deg", angle, pi / 180.0},
    {"\xC2\xB0", angle, pi / 180.0},
    {"rad", angle, 1.0},
    {"rpm", speed, turn_rad / 60.0},
    {"1/min", speed, turn_rad / 60.0},
    {"Hz", speed, turn_rad},
    {"rad/s", speed, 1.0},
    {"Hz", frequency, 1.0},
    {"kHz", frequency, 1e3},
    {"S/s", frequency, 1.0},
    {"kS/s", frequency, 1e3},
    {"s", time, 1.0},
    {"ms", time, 1e-3},
    {"us", time, 1e-6},
    {"ns", time, 1e-9},
    {"min", time, 60.0},
    {"h", time, 3600.0},
    {"d", time, 86400.0},
    {"g*mm", unbalance, 1e-6},
    {"g*cm", unbalance, 1e-5},
    {"kg*mm", unbalance, 1e-3},
    {"kg*m", unbalance, 1.0},
    {"g*m", unbalance, 1e-3},
    {"oz*in", unbalance, kg_per_oz* m_per_in},
    {"g*in", unbalance, 1e-3 * m_per_in},
    {"m/s2", acceleration, 1.0},
    {"mm/s2", acceleration, 1e-3},
    {"g", acceleration, standard_gravity_m_s2},
    {"mg", acceleration, 1e-3 * standard_gravity_m_s2},
    {"in/s2", acceleration, m_per_in},
    {"mm/s", velocity, 1e-3},
    {"m/s", velocity, 1.0},
    {"in/s", velocity, m_per_in},
    {"ips", velocity, m_per_in},
    {"V", voltage, 1.0},
    {"mV", voltage, 1e-3},
    {"uV", voltage, 1e-6},
    {"N", force, 1.0},
    {"kN", force, 1e3},
    {"lbf", force, n_per_lbf},
    {"kg/m3", density, 1.0},
    {"g/cm3", density, 1e3},
    {"lb/in3", density, kg_per_lb / (m_per_in * m_per_in * m_per_in)},
    {"kg/m", linear_mass, 1.0},
    {"g/mm", linear_mass, 1.0},
    {"g/m", linear_mass, 1e-3},
    {"g/cm", linear_mass, 0.1},
    {"oz/in", linear_mass, kg_per_oz / m_per_in},
    {"g/in", linear_mass, 1e-3 / m_per_in},
    {"N/m", stiffness, 1.0},
    {"N/mm", stiffness, 1e3},
    {"kN/m", stiffness, 1e3},
    {"kN/mm", stiffness, 1e6},
    {"lbf/in", stiffness, n_per_lbf / m_per_in},
    {"Pa", pressure, 1.0},
    {"MPa", pressure, 1e6},
    {"GPa", pressure, 1e9},
    {"psi", pressure, pa_per_psi},
    {"%", fraction, 1e-2},
    {"", fraction, 1.0},
};

constexpr std::pair<std::string_view, std::string_view> spellings[] = {
    {"\xC2\xB7", "*"},      // middle dot
    {"\xE2\x8B\x85", "*"},  // dot operator
    {"\xC3\x97", "*"},      // multiplication sign
    {"\xC2\xB5", "u"},      // micro sign
    {"\xCE\xBC", "u"},      // Greek mu
    {"\xC2\xB2", "2"},      // superscript two
    {"\xC2\xB3", "3"},      // superscript three
    {"\xC2\xA0", ""},       // no-break space
    {"\xE2\x80\xAF", ""},   // narrow no-break space
    {"^", ""},
    {"\"", "in"},
    {"-", "*"},
    {".", "*"},
};

/// A space between two unit names is a product ("g mm"); beside an operator it is nothing.
void append_space(std::string& plain, char next) {
  bool after_name = !plain.empty() && (std::isalnum(static_cast<unsigned char>(plain.back())) != 0);
  bool before_name = std::isalnum(static_cast<unsigned char>(next)) != 0;
  if (after_name && before_name) plain += '*';
}

}  // namespace

std::string plain_spelling(std::string_view text) {
  text = trimmed(text);
  std::string plain;
  while (!text.empty()) {
    if (text.front() == ' ' || text.front() == '\t') {
      text = trimmed(text);
      append_space(plain, text.front());
      continue;
    }
    bool replaced = false;
    for (const auto& [from, to] : spellings) {
      if (!text.starts_with(from)) continue;
      plain += to;
      text.remove_prefix(from.size());
      replaced = true;
      break;
    }
    if (replaced) continue;
    plain += text.front();
    text.remove_prefix(1);
  }
  return plain;
}

const Unit* find_unit(std::string_view spelling, Dimension dimension) {
  const std::string plain = plain_spelling(spelling);
  for (const Unit& unit : units) {
    if (unit.dimension == dimension && unit.spelling == plain) return &unit;
  }
  return nullptr;
}

std::vector<std::string_view> unit_spellings(Dimension dimension) {
  std::vector<std::string_view> found;
  for (const Unit& unit : units)
    if (unit.dimension == dimension) found.push_back(unit.spelling);
  return found;
}

std::string units_taken(Dimension dimension) {
  std::string list;
  for (const std::string_view spelling : unit_spellings(dimension)) {
    if (spelling.empty()) continue;
    if (!list.empty()) list += ", ";
    list += spelling;
  }
  return list;
}

std::string_view dimension_name(Dimension dimension) {
  switch (dimension) {
    case mass: return "a mass";
    case length: return "a length";
    case angle: return "an angle";
    case speed: return "a speed of rotation";
    case frequency: return "a frequency";
    case time: return "a time";
    case unbalance: return "an unbalance";
    case acceleration: return "an acceleration";
    case velocity: return "a velocity";
    case voltage: return "a voltage";
    case force: return "a force";
    case density: return "a density";
    case linear_mass: return "a mass per length";
    case stiffness: return "a stiffness";
    case pressure: return "a pressure";
    case fraction: return "a fraction";
  }
  return "a quantity";
}

}  // namespace counterspot
