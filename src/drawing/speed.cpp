#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/units/coverage.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double speed_width_mm = 300.0;
constexpr double speed_height_mm = 190.0;
constexpr double speed_left_mm = 30.0;
constexpr double speed_right_mm = 290.0;
constexpr std::size_t most_points = 2000;  // more than the paper resolves
constexpr double half_turn_deg = 180.0;
constexpr double resonance_name_mm = 8.0;
constexpr double resonance_name_width_mm = 75.0;

/// One curve: a sensor and an order.
struct Curve {
  std::string name;
  std::vector<double> amplitude;  // in the display unit, peak
  std::vector<double> phase_deg;
  std::vector<double> u;  // of either part of the vector, standard, in the display unit; empty: not known
};

/// Which turns are shown: all, or evenly chosen ones.
std::vector<std::size_t> shown_points(std::size_t count) {
  std::vector<std::size_t> shown;
  const std::size_t step = count / most_points + 1;
  for (std::size_t i = 0; i < count; i += step) shown.push_back(i);
  return shown;
}

std::vector<Curve> curves_of(const Sweep& sweep, const std::vector<std::size_t>& shown, const Words& words) {
  std::vector<Curve> curves;
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s) {
    for (std::size_t o = 0; o < sweep.orders.size(); ++o) {
      Curve curve;
      curve.name = fmt::format("{}, {} {}, {}", put_in(words.sensor, sweep.sensors[s]), words.order,
                               with_decimal_sign(fmt::format("{}", sweep.orders[o]), words),
                               printed_unit(display_unit(sweep.motions[s])));
      for (const std::size_t i : shown) {
        const Phasor z = sweep.points[i].vectors[s][o];
        curve.amplitude.push_back(std::abs(z) / si_per_display_unit(sweep.motions[s]));
        curve.phase_deg.push_back(direction_deg(z));
        const auto& u = sweep.points[i].u;
        if (s < u.size()) curve.u.push_back(u[s][o] / si_per_display_unit(sweep.motions[s]));
      }
      curves.push_back(std::move(curve));
    }
  }
  return curves;
}

/// The edges of what holds each curve in 95 of 100 cases.
void draw_bands(Sketch& sketch, const Chart& amplitude, const Chart& phase, const std::vector<double>& speeds,
                const Curve& curve) {
  if (curve.u.size() != speeds.size()) return;
  for (const double side : {-1.0, 1.0}) {
    std::vector<double> sizes;
    std::vector<double> directions;
    for (std::size_t k = 0; k < speeds.size(); ++k) {
      const double expanded = coverage_factor * curve.u[k];
      sizes.push_back(std::max(0.0, curve.amplitude[k] + side * expanded));
      const bool known = expanded < curve.amplitude[k];
      const double edge = curve.phase_deg[k] + side * degrees(std::asin(known ? expanded / curve.amplitude[k] : 1.0));
      directions.push_back(known && edge >= 0.0 && edge <= 360.0 ? edge : std::nan(""));
    }
    amplitude.draw_curve(sketch, Role::uncertainty, speeds, sizes, "band " + curve.name);
    phase.draw_curve(sketch, Role::uncertainty, speeds, directions, "band of phase " + curve.name, half_turn_deg);
  }
}

/// Markers at even places along the paper, so that a curve is told without its colour.
void draw_markers(Sketch& sketch, const Chart& chart, std::size_t i, const std::vector<double>& xs,
                  const std::vector<double>& ys) {
  constexpr double every_mm = 28.0;
  double last = -1e9;
  for (std::size_t k = 0; k < xs.size(); ++k) {
    const Point at = chart.at(xs[k], ys[k]);
    if (std::abs(at.x - last) < every_mm) continue;
    if (last < 0.0) {  // the curves' first markers stand side by side
      last = at.x - every_mm + 5.0 + 7.0 * static_cast<double>(i % 4);
      continue;
    }
    draw_marker(sketch, series_role(i), i, at, 1.7, Fill::solid);
    last = at.x;
  }
}

/// In how many rows the names of resonances stand, one in each row that is free at its place.
struct ResonanceNames {
  std::vector<std::size_t> row;  // of each
  std::size_t rows = 0;
};

ResonanceNames placed_names(const Sweep& sweep, const Axis& speed) {
  ResonanceNames names;
  std::vector<double> taken_mm;  // of each row: up to where
  std::vector<std::size_t> by_speed(sweep.resonances.size());
  std::iota(by_speed.begin(), by_speed.end(), std::size_t{0});
  std::sort(by_speed.begin(), by_speed.end(), [&](std::size_t a, std::size_t b) {
    return sweep.resonances[a].speed_rad_s < sweep.resonances[b].speed_rad_s;
  });
  names.row.resize(by_speed.size());
  for (const std::size_t i : by_speed) {
    const double x = speed.at(rpm(sweep.resonances[i].speed_rad_s));
    const double begin_mm = x < 0.5 * (speed_left_mm + speed_right_mm) ? x : x - resonance_name_width_mm;
    std::size_t row = 0;
    while (row < taken_mm.size() && taken_mm[row] > begin_mm) ++row;
    taken_mm.resize(std::max(taken_mm.size(), row + 1));
    taken_mm[row] = begin_mm + resonance_name_width_mm;
    names.row[i] = row;
  }
  names.rows = taken_mm.size();
  return names;
}

void draw_resonances(Sketch& sketch, const Sweep& sweep, const ResonanceNames& names, const Chart& amplitude,
                     const Chart& phase, const Words& words) {
  for (std::size_t i = 0; i < sweep.resonances.size(); ++i) {
    const Resonance& resonance = sweep.resonances[i];
    const double speed = rpm(resonance.speed_rad_s);
    if (!amplitude.x.holds(speed)) continue;
    const double x = amplitude.x.at(speed);
    const bool right = x < 0.5 * (speed_left_mm + speed_right_mm);
    const double y = amplitude.y.to_mm + 6.5 + resonance_name_mm * static_cast<double>(names.row[i]);
    sketch.line(Role::centre_line, {x, amplitude.y.to_mm}, {x, amplitude.y.from_mm}, "resonance " + resonance.sensor);
    sketch.line(Role::centre_line, {x, phase.y.to_mm}, {x, phase.y.from_mm});
    sketch.name(Role::text,
                {{x + (right ? 2.0 : -2.0), y},
                 fmt::format("{} {} {:.0f}{}", resonance.sensor, words.resonance, speed, words.rpm),
                 5.0,
                 right ? Anchor::left : Anchor::right,
                 true,
                 resonance_name_width_mm - 4.0},
                "resonance speed");
  }
}

}  // namespace

Picture speed_picture(const Sweep& sweep, const Words& words) {
  const std::string name = sweep.file.substr(sweep.file.find_last_of('/') + 1);
  Sketch sketch(name, speed_width_mm, speed_height_mm);
  sketch.name(Role::text, {{4.0, 11.0}, name, 6.0, Anchor::left, true, 150.0});
  const auto shown = shown_points(sweep.points.size());
  std::vector<double> speeds;
  for (const std::size_t i : shown) speeds.push_back(rpm(sweep.points[i].speed_rad_s));
  const auto curves = curves_of(sweep, shown, words);
  double highest = 0.0;
  for (const Curve& curve : curves)
    for (const double value : curve.amplitude) highest = std::max(highest, value);
  double slowest = 1e300;
  double fastest = -1e300;
  for (const double speed : speeds) {
    slowest = std::min(slowest, speed);
    fastest = std::max(fastest, speed);
  }
  const std::size_t rows = (curves.size() + 1) / 2;
  const double top = 28.0 + 7.0 * static_cast<double>(rows);
  const double split = top + 0.60 * (speed_height_mm - 18.0 - top);
  const Axis speed = fastest > slowest ? Axis{slowest, fastest, speed_left_mm, speed_right_mm}
                                       : rounded_axis(slowest, fastest, speed_left_mm, speed_right_mm);
  const double height = split - 14.0 - top;
  const ResonanceNames resonances = placed_names(sweep, speed);
  const double names = resonance_name_mm * static_cast<double>(resonances.rows);  // over the highest peak
  const Chart amplitude{speed, rounded_axis(0.0, 1.05 * highest * height / (height - names), split - 14.0, top)};
  const Chart phase{speed, {0.0, 360.0, speed_height_mm - 18.0, split, false, 90.0}};
  amplitude.draw_frame(sketch, "", fmt::format("{}, {}", words.amplitude, words.peak), words);
  phase.draw_frame(sketch, in_unit(words.speed, words.rpm), in_unit(words.phase_lag, words.degree), words);
  draw_resonances(sketch, sweep, resonances, amplitude, phase, words);
  const bool bands = std::any_of(curves.begin(), curves.end(), [](const Curve& curve) { return !curve.u.empty(); });
  if (bands)
    sketch.name(
        Role::quiet,
        {{speed_right_mm, 11.0}, words.picture().band_of_95, 4.2, Anchor::right, false, speed_right_mm - 160.0});
  for (std::size_t i = 0; i < curves.size(); ++i) {
    amplitude.draw_curve(sketch, series_role(i), speeds, curves[i].amplitude, "amplitude " + curves[i].name);
    phase.draw_curve(sketch, series_role(i), speeds, curves[i].phase_deg, "phase " + curves[i].name, half_turn_deg);
    draw_bands(sketch, amplitude, phase, speeds, curves[i]);
    draw_markers(sketch, amplitude, i, speeds, curves[i].amplitude);
    draw_markers(sketch, phase, i, speeds, curves[i].phase_deg);
    const std::size_t row = i / 2;
    draw_key(sketch, i, curves[i].name, {i % 2 == 0 ? speed_left_mm : 160.0, 18.0 + 7.0 * static_cast<double>(row)},
             126.0);
  }
  return std::move(sketch.picture());
}

namespace {

constexpr double path_size_mm = 150.0;
constexpr Point path_middle{75.0, 80.0};
constexpr double path_full_mm = 52.0;

/// Rooms of texts that are already there.
class TakenRooms {
 public:
  /// Whether there is room for a text of this size, and on the paper; if so it is taken.
  bool reserve(Point corner, double width_mm, double height_mm) {
    const Room room{corner.x, corner.y, corner.x + width_mm, corner.y + height_mm};
    if (room.left < 1.0 || room.top < 14.0 || room.right > path_size_mm - 1.0 || room.bottom > path_size_mm - 10.0)
      return false;
    for (const Room& other : rooms_)
      if (room.left < other.right && other.left < room.right && room.top < other.bottom && other.top < room.bottom)
        return false;
    for (const Point& point : curve_)
      if (room.left < point.x && point.x < room.right && room.top < point.y && point.y < room.bottom) return false;
    rooms_.push_back(room);
    return true;
  }
  /// No text over a curve.
  void keep_off(std::vector<Point> curve) { curve_ = std::move(curve); }

 private:
  struct Room {
    double left = 0.0, top = 0.0, right = 0.0, bottom = 0.0;
  };
  std::vector<Room> rooms_;
  std::vector<Point> curve_;
};

/// Beside a point, to the right or to the left of the way; nothing where there is no room.
bool draw_beside(Sketch& sketch, TakenRooms& taken, Role role, Point at, double direction_deg, const std::string& text,
                 double letters_mm, const char* meaning) {
  const double width = width_of(text, letters_mm) + 1.0;
  for (const double side : {90.0, -90.0, 45.0, -45.0, 135.0, -135.0}) {
    const Point words_at = on_clock(at, 4.0, direction_deg + side);
    const bool right = words_at.x > at.x;
    const double left = right ? words_at.x : words_at.x - width;
    if (!taken.reserve({left, words_at.y + 2.0 - 1.15 * letters_mm}, width, 1.4 * letters_mm)) continue;
    sketch.text(role, {{words_at.x, words_at.y + 2.0}, text, letters_mm, right ? Anchor::left : Anchor::right},
                meaning);
    return true;
  }
  return false;
}

/// Speeds along the path: a dot and a number at round speeds.
void draw_speeds(Sketch& sketch, TakenRooms& taken, const Sweep& sweep, const std::vector<std::size_t>& shown,
                 const std::vector<Point>& path) {
  double slowest = 1e300;
  double fastest = 0.0;
  for (const std::size_t i : shown) {
    slowest = std::min(slowest, rpm(sweep.points[i].speed_rad_s));
    fastest = std::max(fastest, rpm(sweep.points[i].speed_rad_s));
  }
  constexpr double apart_mm = 5.0;  // of dots that have a number each
  std::vector<Point> numbered;
  for (const double speed : round_steps(slowest, fastest, 12)) {
    for (std::size_t k = 1; k < shown.size(); ++k) {
      const double before = rpm(sweep.points[shown[k - 1]].speed_rad_s);
      const double after = rpm(sweep.points[shown[k]].speed_rad_s);
      if ((before - speed) * (after - speed) > 0.0 || before == after) continue;
      sketch.disc(Role::series_1, path[k], 1.2, Fill::solid);
      const auto near = [&](const Point& other) {
        return std::hypot(other.x - path[k].x, other.y - path[k].y) < apart_mm;
      };
      if (std::none_of(numbered.begin(), numbered.end(), near) &&
          draw_beside(sketch, taken, Role::text, path[k], clock_deg_of(path[k - 1], path[k]),
                      fmt::format("{:.0f}", speed), 4.4, "speed"))
        numbered.push_back(path[k]);
      break;
    }
  }
}

Picture path_of_sensor(const Sweep& sweep, std::size_t sensor, std::size_t order_index, const Words& words) {
  Sketch sketch(words.path_of_vector, path_size_mm, path_size_mm);
  const auto shown = shown_points(sweep.points.size());
  double largest = 0.0;
  for (const std::size_t i : shown) largest = std::max(largest, std::abs(sweep.points[i].vectors[sensor][order_index]));
  if (!(largest > 0.0)) largest = 1.0;
  const double unit = si_per_display_unit(sweep.motions[sensor]);
  sketch.name(Role::text, {{4.0, 11.0}, put_in(words.sensor, sweep.sensors[sensor]), 7.0, Anchor::left, true, 66.0});
  sketch.name(Role::text, {{path_size_mm - 4.0, 11.0},
                           fmt::format("{}, {} {}", words.path_of_vector, words.order,
                                       with_decimal_sign(fmt::format("{}", sweep.orders[order_index]), words)),
                           4.6,
                           Anchor::right,
                           false,
                           72.0});
  TakenRooms taken;
  std::vector<double> rings;
  for (const double ring : round_steps(0.0, largest / unit, 3)) {
    if (ring <= 0.0) continue;
    sketch.disc(Role::grid, path_middle, path_full_mm * ring * unit / largest);
    rings.push_back(ring);
  }
  for (int quarter = 0; quarter < 4; ++quarter) {
    sketch.line(Role::grid, path_middle, on_clock(path_middle, path_full_mm + 1.0, 90.0 * quarter));
    const Point at = on_clock(path_middle, path_full_mm + (quarter % 2 == 0 ? 5.0 : 9.0), 90.0 * quarter);
    const std::string direction = std::to_string(90 * quarter);
    const double wide = width_of(direction, 4.6);
    taken.reserve({at.x - 0.5 * wide - 1.0, at.y - 2.8}, wide + 2.0, 5.4);
    sketch.text(Role::text, {{at.x, at.y + 2.2}, direction, 4.6, Anchor::middle});
  }
  std::vector<Point> path;
  for (const std::size_t i : shown) {
    const Phasor z = sweep.points[i].vectors[sensor][order_index];
    path.push_back(on_clock(path_middle, path_full_mm * std::abs(z) / largest, direction_deg(z)));
  }
  sketch.path(Role::series_1, path, "path " + sweep.sensors[sensor]);
  taken.keep_off(path);
  draw_speeds(sketch, taken, sweep, shown, path);
  for (const double ring : rings) {
    for (const double direction : {0.0, 90.0, 180.0, 270.0, 45.0, 135.0, 225.0, 315.0}) {
      const Point at = on_clock(path_middle, path_full_mm * ring * unit / largest, direction);
      const std::string number = with_decimal_sign(fmt::format("{:.4g}", ring), words);
      if (draw_beside(sketch, taken, Role::quiet, at, 45.0, number, 3.6, "ring")) break;
    }
  }
  if (path.size() > 1) {
    const std::size_t before = path.size() > 12 ? path.size() - 12 : 0;
    sketch.arrow_head(Role::series_1, path.back(), clock_deg_of(path[before], path.back()), 5.0);
  }
  sketch.name(Role::quiet, {{4.0, path_size_mm - 4.0},
                            fmt::format("{}, {};{}; {}", printed_unit(display_unit(sweep.motions[sensor])), words.peak,
                                        words.rpm, in_unit(words.phase_lag, words.degree)),
                            4.2,
                            Anchor::left,
                            false,
                            path_size_mm - 8.0});
  return std::move(sketch.picture());
}

}  // namespace

Picture path_picture(const Sweep& sweep, std::size_t order_index, const Words& words) {
  std::vector<Picture> sensors;
  for (std::size_t s = 0; s < sweep.sensors.size(); ++s)
    sensors.push_back(path_of_sensor(sweep, s, order_index, words));
  return side_by_side(sensors, 2);
}

Picture sweep_picture(const Sweep& sweep, const Words& words) {
  std::vector<Picture> pictures = {speed_picture(sweep, words)};
  for (std::size_t o = 0; o < sweep.orders.size(); ++o) pictures.push_back(path_picture(sweep, o, words));
  return side_by_side(pictures, 1);
}

}  // namespace counterspot
