#include "report/universal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// What a row says of one vector.
struct Point {
  double frequency_Hz = 0.0;
  double real = 0.0;
  double imaginary = 0.0;
};

struct Function {
  std::string name;
  std::string unit;
  std::vector<Point> points;
};

/// By column, with the unit in its head taken off: of "amplitude (mm/s)" the name "amplitude" and the unit.
std::map<std::string, std::pair<std::string, std::string>> cells_of(const TableRow& row) {
  std::map<std::string, std::pair<std::string, std::string>> cells;
  for (const auto& [column, text] : row.cells()) {
    const auto bracket = column.find(" (");
    const std::string unit =
        bracket == std::string::npos ? "" : column.substr(bracket + 2, column.size() - bracket - 3);
    cells[column.substr(0, bracket)] = {text, unit};
  }
  return cells;
}

/// The columns are those of dataset 58 (see `UniversalFile` for its source): complex double values at uneven places.
std::string dataset(const Function& function, std::size_t number) {
  constexpr int spectrum = 12;
  constexpr int frequency = 18;
  constexpr int acceleration = 12;
  constexpr int velocity = 11;
  constexpr int displacement = 8;
  constexpr int unknown = 0;
  const int quantity = function.unit == "m/s2"   ? acceleration
                       : function.unit == "mm/s" ? velocity
                       : function.unit == "um"   ? displacement
                                                 : unknown;
  std::string text = "    -1\n    58\n";
  for (const std::string& line : {function.name.substr(0, 80), std::string("order over frequency of rotation, peak"),
                                  std::string("NONE"), std::string("NONE"), std::string("NONE")})
    text += fmt::format("{:<80}\n", line);
  text += fmt::format("{:5d}{:10d}{:5d}{:10d} {:<10}{:10d}{:4d} {:<10}{:10d}{:4d}\n", spectrum, number, 0, 0, "NONE",
                      number, 0, "NONE", 0, 0);
  text += fmt::format("{:10d}{:10d}{:10d}{:13.5E}{:13.5E}{:13.5E}\n", 6, function.points.size(), 0, 0.0, 0.0, 0.0);
  text += fmt::format("{:10d}{:5d}{:5d}{:5d} {:<20} {:<20}\n", frequency, 0, 0, 0, "Frequency", "Hz");
  text += fmt::format("{:10d}{:5d}{:5d}{:5d} {:<20} {:<20}\n", quantity, 0, 0, 0, "Order", function.unit);
  for (int other = 0; other < 2; ++other)
    text += fmt::format("{:10d}{:5d}{:5d}{:5d} {:<20} {:<20}\n", 0, 0, 0, 0, "NONE", "NONE");
  for (const Point& point : function.points)
    text += fmt::format("{:13.5E}{:20.12E}{:20.12E}\n", point.frequency_Hz, point.real, point.imaginary);
  return text + "    -1\n";
}

}  // namespace

std::string universal_text(const std::vector<TableRow>& rows) {
  std::vector<Function> functions;
  for (const TableRow& row : rows) {
    const auto cells = cells_of(row);
    const bool has_all = cells.contains("speed") && cells.contains("amplitude") && cells.contains("phase_lag") &&
                         cells.contains("sensor") && cells.contains("order");
    if (!has_all) continue;
    std::string name = fmt::format("sensor {}, order {}", cells.at("sensor").first, cells.at("order").first);
    for (const char* of : {"spin", "file"})
      if (cells.contains(of)) name += ", " + cells.at(of).first;
    auto known =
        std::find_if(functions.begin(), functions.end(), [&](const Function& one) { return one.name == name; });
    if (known == functions.end()) known = functions.insert(functions.end(), {name, cells.at("amplitude").second, {}});
    const double amplitude = std::stod(cells.at("amplitude").first);
    const double lag_rad = radians(std::stod(cells.at("phase_lag").first));
    known->points.push_back(
        {std::stod(cells.at("speed").first) / 60.0, amplitude * std::cos(lag_rad), -amplitude * std::sin(lag_rad)});
  }
  if (functions.empty()) {
    throw Error(Trouble::request, "no_vectors", "there are no vectors over speed to write into a universal file",
                "end the name with .csv, which holds every result");
  }
  std::string text;
  for (std::size_t i = 0; i < functions.size(); ++i) text += dataset(functions[i], i + 1);
  return text;
}

}  // namespace counterspot
