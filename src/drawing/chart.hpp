#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "drawing/sketch.hpp"

namespace counterspot {

/// Round numbers that divide a range: steps of 1, 2 or 5 times a power of ten, at most `most` of them.
std::vector<double> round_steps(double from, double to, int most);
/// A number on an axis with as many decimals as the step needs.
std::string axis_number(double value, double step);
/// "speed, rpm": the name of an axis, and its unit as it stands behind a number.
std::string in_unit(const std::string& name, const std::string& unit);
/// "m/s²", "µm": a unit as it is printed; files and commands have it as it is typed.
std::string printed_unit(std::string_view unit);

/// One axis: what range of numbers goes onto what stretch of paper.
struct Axis {
  double from = 0.0;
  double to = 1.0;
  double from_mm = 0.0;
  double to_mm = 0.0;
  bool log = false;   ///< equal ratios, equal lengths; from > 0
  double step = 0.0;  ///< of the numbers on it; 0: round ones

  double at(double value) const;
  bool holds(double value) const { return value >= from && value <= to; }
};

/// An axis that begins and ends at round numbers. Equal or reversed ends are spread.
Axis rounded_axis(double least, double most, double from_mm, double to_mm);

/// A line across a chart, and its name at the end.
struct Level {
  Role role = Role::limit;
  double value = 0.0;
  std::string name;
};

/// A frame with two axes, ticks with numbers, and the names of the axes.
struct Chart {
  Axis x;
  Axis y;

  Point at(double x_value, double y_value) const { return {x.at(x_value), y.at(y_value)}; }
  void draw_frame(Sketch& sketch, const std::string& x_name, const std::string& y_name, const Words& words) const;
  /// The same of heights in equal ratios, with lines at powers of ten; without the numbers along x.
  void draw_decades(Sketch& sketch, const std::string& y_name, const Words& words) const;
  /// Left out where a value is not finite; a gap in x or y cuts the curve.
  void draw_curve(Sketch& sketch, Role role, const std::vector<double>& xs, const std::vector<double>& ys,
                  const std::string& meaning, double largest_jump = 1e300) const;
  /// Names of lines that lie close are moved apart, each no higher than its line asks for.
  void draw_levels(Sketch& sketch, std::vector<Level> levels) const;
  void draw_name(Sketch& sketch, const std::string& y_name) const;
};

Role series_role(std::size_t i);
/// Disc, square, triangle, diamond: by which a curve is told without its colour.
void draw_marker(Sketch& sketch, Role role, std::size_t shape, Point at, double size_mm, Fill fill,
                 const std::string& meaning = {});
/// A short piece of the curve with its marker and its name.
void draw_key(Sketch& sketch, std::size_t i, const std::string& name, Point at, double width_mm);
/// A cross: what is outside, or beyond.
void draw_cross(Sketch& sketch, Point at, double size_mm, const std::string& meaning = {});

}  // namespace counterspot
