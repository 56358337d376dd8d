#include <fmt/format.h>

#include <algorithm>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double view_width_mm = 240.0;
constexpr double view_height_mm = 156.0;
constexpr double view_left_mm = 30.0;
constexpr double view_right_mm = 228.0;
constexpr double tube_y_mm = 136.0;

/// A dial's reading to a hundredth of a millimetre, or a thousandth of an inch.
std::string dial_words(double height_m, UnitSystem units) {
  return units == UnitSystem::inch ? fmt::format("{:.3f} in", height_m / m_per_in)
                                   : fmt::format("{:.2f} mm", height_m * 1e3);
}

/// Without a rig the way of rotation is not known: shaft angles then run clockwise, and are written as such.
Rotation rotation_shown(const TubeView& view) {
  return view.rotation.value_or(Rotation::counter_clockwise);
}

std::string place_words(double shaft_angle_rad, const TubeView& view) {
  return view.rotation ? clock_position(shaft_angle_rad, *view.rotation).text()
                       : fmt::format("{:.0f} deg", degrees(shaft_angle_rad));
}

/// Which way the tube is bowed there, as a small clock.
void draw_side(Sketch& sketch, const StationFit& station, const TubeView& view, Point at) {
  const double direction = clock_deg(std::arg(station.bow_m), rotation_shown(view));
  sketch.disc(Role::quiet, at, 7.0, Fill::paper);
  sketch.line(Role::mark, on_clock(at, 5.0, 0.0), on_clock(at, 7.5, 0.0));
  sketch.arrow(Role::latest, at, on_clock(at, 6.5, direction), 4.0, fmt::format("high side {:.1f}", direction));
  sketch.text(Role::text,
              {{at.x, at.y + 13.5}, place_words(wrap_positive(std::arg(station.bow_m)), view), 4.6, Anchor::middle});
}

void draw_press(Sketch& sketch, const TubeView& view, const Axis& along, const Words& words) {
  const auto& press = view.straightness.straighten;
  if (!press) return;
  const Point tip{along.at(press->position_m * 1e3), tube_y_mm - 13.0};
  sketch.arrow(Role::to_fit, {tip.x, tip.y - 12.0}, tip, 6.0, "press");
  sketch.text(Role::to_fit, {{tip.x + 3.0, tip.y - 5.0},
                             fmt::format("{} {}", words.press_here, place_words(press->high_side_rad, view)),
                             5.0,
                             Anchor::left,
                             true});
}

}  // namespace

Picture straightness_picture(const TubeView& view, const Words& words) {
  Sketch sketch(words.straightness, view_width_mm, view_height_mm);
  sketch.text(Role::text, {{6.0, 12.0}, words.straightness, 7.0, Anchor::left, true});
  sketch.text(Role::text, {{view_width_mm - 6.0, 12.0},
                           view.rotation ? put_in(words.seen_from, view.end) : words.shaft_angle,
                           4.8,
                           Anchor::right});
  double least = 1e3 * std::min(view.from_m, view.to_m);
  double most = 1e3 * std::max(view.from_m, view.to_m);
  double highest = view.indicator_limit_m;
  for (const StationFit& station : view.straightness.stations) {
    least = std::min(least, 1e3 * station.position_m);
    most = std::max(most, 1e3 * station.position_m);
    highest = std::max(highest, station.indicator_total_m);
  }
  const Chart chart{{least, most, view_left_mm, view_right_mm}, rounded_axis(0.0, 1.15e3 * highest, 88.0, 30.0)};
  chart.draw_frame(sketch, std::string(words.along_tube) + ", mm", std::string(words.indicator_total) + ", mm");
  const double limit_y = chart.y.at(1e3 * view.indicator_limit_m);
  sketch.line(Role::limit, {view_left_mm, limit_y}, {view_right_mm, limit_y}, "limit");
  sketch.text(Role::limit, {{view_right_mm, limit_y - 1.8},
                            put_in(words.limit_of, dial_words(view.indicator_limit_m, view.units)),
                            4.6,
                            Anchor::right});
  for (const StationFit& station : view.straightness.stations) {
    const double x = chart.x.at(1e3 * station.position_m);
    const bool beyond = station.indicator_total_m > view.indicator_limit_m;
    const double y = chart.y.at(1e3 * station.indicator_total_m);
    sketch.polygon(beyond ? Role::forbidden : Role::on_shaft,
                   {{x - 4.0, 88.0}, {x - 4.0, y}, {x + 4.0, y}, {x + 4.0, 88.0}}, beyond ? Fill::hatch : Fill::solid,
                   "indicator total");
    sketch.text(Role::text,
                {{x, y - 2.0}, dial_words(station.indicator_total_m, view.units), 4.6, Anchor::middle, beyond});
    draw_side(sketch, station, view, {x, tube_y_mm});
  }
  sketch.text(Role::quiet, {{6.0, tube_y_mm + 2.0}, words.high_side, 4.2, Anchor::left, false, view_left_mm - 8.0});
  draw_press(sketch, view, chart.x, words);
  return std::move(sketch.picture());
}

}  // namespace counterspot
