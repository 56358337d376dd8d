#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double view_width_mm = 240.0;
constexpr double view_height_mm = 176.0;
constexpr double view_left_mm = 34.0;
constexpr double view_right_mm = 224.0;
constexpr double foot_mm = 84.0;        // of the bars
constexpr double reading_y_mm = 104.0;  // of the bars' numbers
constexpr double tube_y_mm = 144.0;
constexpr double side_mm = 7.0;
constexpr double station_letters_mm = 4.2;

/// Along the tube, and of a dial: of the unit that the shop reads.
double length_in(UnitSystem units, double length_m) {
  return units == UnitSystem::inch ? length_m / m_per_in : length_m * 1e3;
}

/// A dial's reading to a hundredth of a millimetre, or a thousandth of an inch.
std::string dial_words(double height_m, UnitSystem units, const Words& words) {
  return number_text(length_in(units, height_m), units == UnitSystem::inch ? 3 : 2, words) +
         (units == UnitSystem::inch ? " in" : " mm");
}

/// Without a rig the way of rotation is not known: shaft angles then run clockwise, and are written as such.
Rotation rotation_shown(const TubeView& view) {
  return view.rotation.value_or(Rotation::counter_clockwise);
}

std::string place_words(double shaft_angle_rad, const TubeView& view, const Words& words) {
  return view.rotation ? clock_position(shaft_angle_rad, *view.rotation).text()
                       : number_text(degrees(shaft_angle_rad), 0, words) + words.degree;
}

/// Which way the tube is bowed there, as a small clock.
void draw_side(Sketch& sketch, const StationFit& station, const TubeView& view, Point at) {
  const double direction = clock_deg(std::arg(station.bow_m), rotation_shown(view));
  sketch.disc(Role::quiet, at, side_mm, Fill::paper);
  sketch.line(Role::mark, on_clock(at, side_mm - 2.0, 0.0), on_clock(at, side_mm + 0.5, 0.0));
  sketch.arrow(Role::latest, at, on_clock(at, side_mm - 0.5, direction), 4.0,
               fmt::format("high side {:.1f}", direction));
}

void draw_press(Sketch& sketch, const TubeView& view, const Axis& along, const Words& words) {
  const auto& press = view.straightness.straighten;
  if (!press) return;
  const double x = std::clamp(along.at(length_in(view.units, press->position_m)), view_left_mm, view_right_mm);
  const Point tip{x, tube_y_mm - 13.0};
  sketch.arrow(Role::to_fit, {tip.x, tip.y - 10.0}, tip, 6.0, "press");
  const bool right = tip.x < 0.5 * (view_left_mm + view_right_mm);
  sketch.name(Role::to_fit, {{tip.x + (right ? 3.0 : -3.0), tip.y - 5.0},
                             fmt::format("{} {}", words.press_here, place_words(press->high_side_rad, view, words)),
                             5.0,
                             right ? Anchor::left : Anchor::right,
                             true,
                             90.0});
}

/// Words under one another where stations stand close: every one in the first of the rows that is free there.
class StationRows {
 public:
  /// @return the row, from 0; empty if all are taken.
  std::optional<int> row_at(double left_mm, double right_mm, int rows) {
    taken_to_mm_.resize(static_cast<std::size_t>(rows), -1e9);
    for (int row = 0; row < rows; ++row) {
      double& taken = taken_to_mm_[static_cast<std::size_t>(row)];
      if (taken > left_mm) continue;
      taken = right_mm + 1.0;
      return row;
    }
    return std::nullopt;
  }

 private:
  std::vector<double> taken_to_mm_;
};

struct Stations {
  Sketch& sketch;
  const TubeView& view;
  const Chart& chart;
  const Words& words;
  double bar_mm = 4.0;  ///< half of a bar
  StationRows readings{}, sides{};

  void draw(const StationFit& station) {
    const double x = chart.x.at(length_in(view.units, station.position_m));
    const bool beyond = station.indicator_total_m > view.indicator_limit_m;
    const double y = chart.y.at(length_in(view.units, station.indicator_total_m));
    sketch.polygon(beyond ? Role::forbidden : Role::on_shaft,
                   {{x - bar_mm, foot_mm}, {x - bar_mm, y}, {x + bar_mm, y}, {x + bar_mm, foot_mm}},
                   beyond ? Fill::hatch : Fill::solid, "indicator total");
    draw_words(readings, dial_words(station.indicator_total_m, view.units, words), x, reading_y_mm, beyond);
    draw_side(sketch, station, view, {x, tube_y_mm});
    draw_words(sides, place_words(wrap_positive(std::arg(station.bow_m)), view, words), x, tube_y_mm + 13.5, false);
  }

  /// Of stations that stand too close for all, some are left to the table.
  void draw_words(StationRows& rows, const std::string& text, double x, double y, bool heavy) {
    const double half = 0.5 * width_of(text, station_letters_mm, heavy);
    const auto row = rows.row_at(x - half, x + half, 2);
    if (!row) return;
    sketch.text(Role::text, {{x, y + 6.0 * *row}, text, station_letters_mm, Anchor::middle, heavy});
  }
};

/// So that bars and clocks of stations that stand close do not cover one another.
double half_bar_mm(const TubeView& view, const Axis& along) {
  double nearest = 1e9;
  std::vector<double> at;
  for (const StationFit& station : view.straightness.stations)
    at.push_back(along.at(length_in(view.units, station.position_m)));
  std::sort(at.begin(), at.end());
  for (std::size_t i = 1; i < at.size(); ++i) nearest = std::min(nearest, at[i] - at[i - 1]);
  return std::clamp(0.4 * nearest, 0.4, 4.0);
}

}  // namespace

Picture straightness_picture(const TubeView& view, const Words& words) {
  Sketch sketch(words.straightness, view_width_mm, view_height_mm);
  sketch.text(Role::text, {{6.0, 12.0}, words.straightness, 7.0, Anchor::left, true});
  sketch.name(Role::text, {{view_width_mm - 6.0, 12.0},
                           view.rotation ? put_in(words.seen_from, view.end) : words.shaft_angle,
                           4.8,
                           Anchor::right,
                           false,
                           110.0});
  double least = length_in(view.units, std::min(view.from_m, view.to_m));
  double most = length_in(view.units, std::max(view.from_m, view.to_m));
  double highest = view.indicator_limit_m;
  for (const StationFit& station : view.straightness.stations) {
    least = std::min(least, length_in(view.units, station.position_m));
    most = std::max(most, length_in(view.units, station.position_m));
    highest = std::max(highest, station.indicator_total_m);
  }
  const char* unit = view.units == UnitSystem::inch ? " in" : " mm";
  const Chart chart{{least, most > least ? most : least + 1.0, view_left_mm, view_right_mm},
                    rounded_axis(0.0, 1.15 * length_in(view.units, highest), foot_mm, 30.0)};
  chart.draw_frame(sketch, in_unit(words.along_tube, unit), in_unit(words.indicator_total, unit), words);
  const double limit_y = chart.y.at(length_in(view.units, view.indicator_limit_m));
  Stations stations{sketch, view, chart, words, half_bar_mm(view, chart.x)};
  std::vector<StationFit> in_order = view.straightness.stations;
  std::stable_sort(in_order.begin(), in_order.end(),
                   [](const StationFit& a, const StationFit& b) { return a.position_m < b.position_m; });
  for (const StationFit& station : in_order) stations.draw(station);
  sketch.line(Role::limit, {view_left_mm, limit_y}, {view_right_mm, limit_y}, "limit");
  sketch.name(Role::limit, {{view_right_mm, 25.0},
                            put_in(words.limit_of, dial_words(view.indicator_limit_m, view.units, words)),
                            4.6,
                            Anchor::right,
                            false,
                            100.0});
  constexpr double beside_mm = 20.0;  // left of the first clock
  double y = tube_y_mm;
  for (const std::string& line : wrapped(words.high_side, 4.2, beside_mm)) {
    sketch.name(Role::quiet, {{4.0, y + 2.0}, line, 4.2, Anchor::left, false, beside_mm});
    y += 6.0;
  }
  draw_press(sketch, view, chart.x, words);
  return std::move(sketch.picture());
}

}  // namespace counterspot
