#include "drawing/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace counterspot {

namespace {

constexpr double number_mm = 4.2;
constexpr double name_mm = 4.6;

}  // namespace

std::vector<double> round_steps(double from, double to, int most) {
  std::vector<double> steps;
  const double range = to - from;
  if (!(range > 0.0) || most < 1) return steps;
  const double power = std::pow(10.0, std::floor(std::log10(range / most)));
  double step = 10.0 * power;
  for (const double factor : {5.0, 2.0, 1.0}) {
    if (range / (factor * power) <= most) step = factor * power;
  }
  const double slack = 1e-9 * range;
  for (double i = std::ceil((from - slack) / step); i * step <= to + slack; ++i) steps.push_back(i * step);
  return steps;
}

std::string in_unit(const std::string& name, const std::string& unit) {
  return unit.starts_with(' ') ? name + "," + unit : name + ", " + unit;
}

std::string printed_unit(std::string_view unit) {
  if (unit == "m/s2") return "m/s²";
  if (unit == "um") return "µm";
  return std::string(unit);
}

std::string axis_number(double value, double step) {
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(std::abs(step)) - 1e-9)), 0, 9);
  return fmt::format("{:.{}f}", value == 0.0 ? 0.0 : value, decimals);
}

double Axis::at(double value) const {
  const double share = log ? std::log(value / from) / std::log(to / from) : (value - from) / (to - from);
  return from_mm + share * (to_mm - from_mm);
}

Axis rounded_axis(double least, double most, double from_mm, double to_mm) {
  if (!(most > least)) {
    const double spread = std::max(1e-12, 0.5 * std::abs(most));
    least -= spread;
    most += spread;
  }
  const auto steps = round_steps(least, most, 6);
  const double step = steps.size() > 1 ? steps[1] - steps[0] : most - least;
  const double slack = 1e-9 * (most - least);
  return {std::floor((least + slack) / step) * step, std::ceil((most - slack) / step) * step, from_mm, to_mm};
}

namespace {

std::vector<double> numbers_on(const Axis& axis, double mm_each, int least) {
  if (axis.step <= 0.0)
    return round_steps(axis.from, axis.to,
                       std::max(least, static_cast<int>(std::abs(axis.to_mm - axis.from_mm) / mm_each)));
  std::vector<double> numbers;
  for (double value = axis.from; value <= axis.to + 1e-9; value += axis.step) numbers.push_back(value);
  return numbers;
}

}  // namespace

void Chart::draw_frame(Sketch& sketch, const std::string& x_name, const std::string& y_name, const Words& words) const {
  const auto xs = numbers_on(x, 22.0, 2);
  const auto ys = numbers_on(y, 9.0, 3);
  const auto step = [](const std::vector<double>& numbers) {
    return numbers.size() > 1 ? numbers[1] - numbers[0] : 1.0;
  };
  for (const double value : xs) {
    sketch.line(Role::grid, {x.at(value), y.from_mm}, {x.at(value), y.to_mm});
    if (x_name.empty()) continue;
    sketch.text(Role::text, {{x.at(value), y.from_mm + 6.5},
                             with_decimal_sign(axis_number(value, step(xs)), words),
                             number_mm,
                             Anchor::middle});
  }
  for (const double value : ys) {
    sketch.line(Role::grid, {x.from_mm, y.at(value)}, {x.to_mm, y.at(value)});
    sketch.text(Role::text, {{x.from_mm - 2.5, y.at(value) + 2.0},
                             with_decimal_sign(axis_number(value, step(ys)), words),
                             number_mm,
                             Anchor::right});
  }
  sketch.path(Role::outline, {{x.from_mm, y.to_mm}, {x.from_mm, y.from_mm}, {x.to_mm, y.from_mm}});
  const double wide_mm = x.to_mm - x.from_mm;
  if (!x_name.empty())
    sketch.name(Role::text, {{x.to_mm, y.from_mm + 14.0}, x_name, name_mm, Anchor::right, false, wide_mm});
  draw_name(sketch, y_name);
}

void Chart::draw_name(Sketch& sketch, const std::string& y_name) const {
  const double left_mm = std::max(4.0, x.from_mm - 30.0);
  sketch.name(Role::text, {{left_mm, y.to_mm - 5.0}, y_name, name_mm, Anchor::left, false, x.to_mm - left_mm});
}

void Chart::draw_decades(Sketch& sketch, const std::string& y_name, const Words& words) const {
  constexpr double slack = 1e-6;
  for (double power = std::ceil(std::log10(y.from) - slack); std::pow(10.0, power) <= y.to * (1.0 + slack); ++power) {
    const double value = std::pow(10.0, power);
    sketch.line(Role::grid, {x.from_mm, y.at(value)}, {x.to_mm, y.at(value)});
    sketch.text(Role::text, {{x.from_mm - 2.5, y.at(value) + 2.0},
                             with_decimal_sign(fmt::format("{:g}", value), words),
                             number_mm,
                             Anchor::right});
  }
  draw_name(sketch, y_name);
}

void Chart::draw_curve(Sketch& sketch, Role role, const std::vector<double>& xs, const std::vector<double>& ys,
                       const std::string& meaning, double largest_jump) const {
  std::vector<Point> points;
  const auto flush = [&] {
    if (points.size() > 1) sketch.path(role, points, meaning);
    points.clear();
  };
  for (std::size_t i = 0; i < xs.size() && i < ys.size(); ++i) {
    const bool known = std::isfinite(xs[i]) && std::isfinite(ys[i]);
    if (!known || (!points.empty() && std::abs(ys[i] - ys[i - 1]) > largest_jump)) flush();
    if (known) points.push_back(at(xs[i], ys[i]));
  }
  flush();
}

void Chart::draw_levels(Sketch& sketch, std::vector<Level> levels) const {
  constexpr double apart_mm = 5.5;
  std::sort(levels.begin(), levels.end(), [](const Level& a, const Level& b) { return a.value > b.value; });
  double above_mm = -1e9;
  for (const Level& level : levels) {
    const double at_mm = y.at(level.value);
    sketch.line(level.role, {x.from_mm, at_mm}, {x.to_mm, at_mm}, level.name);
    above_mm = std::max(at_mm + 1.6, above_mm + apart_mm);
    sketch.name(level.role == Role::earlier ? Role::quiet : level.role,
                {{x.to_mm + 2.0, above_mm}, level.name, 4.0, Anchor::left, false, 38.0});
  }
}

Role series_role(std::size_t i) {
  constexpr std::array<Role, 4> roles{Role::series_1, Role::series_2, Role::series_3, Role::series_4};
  return roles[i % roles.size()];
}

void draw_marker(Sketch& sketch, Role role, std::size_t shape, Point at, double size_mm, Fill fill,
                 const std::string& meaning) {
  if (shape % 4 == 0) {
    sketch.disc(role, at, size_mm, fill, meaning);
    return;
  }
  const int corners = shape % 4 == 2 ? 3 : 4;
  const double turned = shape % 4 == 1 ? 45.0 : 0.0;
  std::vector<Point> points;
  for (int i = 0; i < corners; ++i) points.push_back(on_clock(at, 1.25 * size_mm, turned + 360.0 * i / corners));
  sketch.polygon(role, std::move(points), fill, meaning);
}

void draw_key(Sketch& sketch, std::size_t i, const std::string& name, Point at, double width_mm) {
  const Role role = series_role(i);
  sketch.line(role, at, {at.x + 16.0, at.y});
  draw_marker(sketch, role, i, {at.x + 8.0, at.y}, 1.8, Fill::solid);
  sketch.name(Role::text, {{at.x + 19.0, at.y + 2.0}, name, 4.6, Anchor::left, false, width_mm - 19.0});
}

void draw_cross(Sketch& sketch, Point at, double size_mm, const std::string& meaning) {
  sketch.path(Role::limit, {{at.x - size_mm, at.y - size_mm}, {at.x + size_mm, at.y + size_mm}}, meaning);
  sketch.path(Role::limit, {{at.x - size_mm, at.y + size_mm}, {at.x + size_mm, at.y - size_mm}});
}

}  // namespace counterspot
