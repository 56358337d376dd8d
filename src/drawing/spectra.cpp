#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_charts.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double spectra_width_mm = 240.0;
constexpr double spectra_left_mm = 34.0;
constexpr double spectra_right_mm = 232.0;
constexpr double spectrum_mm = 66.0;  // one sensor
constexpr double map_mm = 150.0;
constexpr double decades_of_lines = 4.0;
constexpr double decades_of_shades = 3.0;
constexpr int map_columns = 792;  // 4 to the millimetre: what a screen and a printer show
constexpr int map_rows = 360;
constexpr int orders_drawn = 4;

std::string name_of(const std::string& file) {
  return file.substr(file.find_last_of('/') + 1);
}

/// A frame whose heights are powers of ten.
void draw_decades(Sketch& sketch, const Chart& chart, const std::string& name) {
  for (double power = std::ceil(std::log10(chart.y.from) - 1e-9); std::pow(10.0, power) <= chart.y.to * 1.000001;
       ++power) {
    const double value = std::pow(10.0, power);
    sketch.line(Role::grid, {chart.x.from_mm, chart.y.at(value)}, {chart.x.to_mm, chart.y.at(value)});
    sketch.text(Role::text,
                {{chart.x.from_mm - 2.5, chart.y.at(value) + 2.0}, fmt::format("{:g}", value), 4.2, Anchor::right});
  }
  sketch.text(Role::text, {{4.0, chart.y.to_mm - 5.0}, name, 4.6});
}

void draw_spectrum(Sketch& sketch, const OrderSpectrum& spectrum, double top, bool last, const Words& words) {
  const double bottom = top + spectrum_mm - 22.0;
  double highest = 0.0;
  for (std::size_t i = 1; i < spectrum.amplitudes.size(); ++i) highest = std::max(highest, spectrum.amplitudes[i]);
  const double unit = si_per_display_unit(spectrum.motion);
  const double most = std::pow(10.0, std::ceil(std::log10(std::max(highest / unit, 1e-12))));
  const double top_order = spectrum.order_at(std::max<std::size_t>(spectrum.amplitudes.size(), 2) - 1);
  const Chart chart{{0.0, top_order, spectra_left_mm, spectra_right_mm},
                    {most * std::pow(10.0, -decades_of_lines), most, bottom, top, true}};
  draw_decades(
      sketch, chart,
      fmt::format("{}, {}, {}", put_in(words.sensor, spectrum.sensor), display_unit(spectrum.motion), words.peak));
  const int step = std::max(1, static_cast<int>(std::ceil(top_order / 20.0)));
  for (int order = 0; order <= static_cast<int>(top_order + 1e-9); order += step) {
    sketch.line(Role::grid, {chart.x.at(order), bottom}, {chart.x.at(order), top});
    if (last) sketch.text(Role::text, {{chart.x.at(order), bottom + 6.5}, std::to_string(order), 4.2, Anchor::middle});
  }
  std::vector<Point> curve;
  for (std::size_t i = 1; i < spectrum.amplitudes.size(); ++i)
    curve.push_back(chart.at(spectrum.order_at(i), std::max(spectrum.amplitudes[i] / unit, chart.y.from)));
  sketch.path(Role::series_1, std::move(curve), "spectrum " + spectrum.sensor);
  sketch.path(Role::outline, {{spectra_left_mm, top}, {spectra_left_mm, bottom}, {spectra_right_mm, bottom}});
}

/// The map's cells, the largest of the values that fall into each; frequency to the right, speed upwards.
Shades shades_of(const SpeedFrequencyMap& map, const Chart& chart, double full) {
  const int columns = std::clamp(static_cast<int>(map.lines), 1, map_columns);
  Shades shades{{chart.x.from_mm, chart.y.to_mm},
                chart.x.to_mm - chart.x.from_mm,
                chart.y.from_mm - chart.y.to_mm,
                columns,
                map_rows,
                {}};
  std::vector<double> largest(static_cast<std::size_t>(columns) * map_rows, -1.0);
  const auto row_of = [&](std::size_t r) {
    const double share = (chart.y.at(rpm(map.speeds_rad_s[r])) - chart.y.to_mm) / shades.height_mm;
    return std::clamp(static_cast<int>(share * map_rows), 0, map_rows - 1);
  };
  for (std::size_t r = 0; r < map.rows(); ++r) {
    const int from = row_of(r);
    const int to = r + 1 < map.rows() ? row_of(r + 1) : from;
    for (int row = std::min(from, to); row <= std::max(from, to); ++row)
      for (std::size_t line = 0; line < map.lines; ++line) {
        double& cell = largest[static_cast<std::size_t>(row) * columns + line * columns / map.lines];
        cell = std::max(cell, map.amplitude_at(r, line));
      }
  }
  for (const double value : largest)
    shades.ink.push_back(value > 0.0 ? static_cast<float>(1.0 + std::log10(value / full) / decades_of_shades) : 0.0F);
  return shades;
}

void draw_orders(Sketch& sketch, const Chart& chart) {
  for (int order = 1; order <= orders_drawn; ++order) {
    // f = order · speed / 60, cut where it leaves the map.
    const double speed = std::min(chart.y.to, 60.0 * chart.x.to / order);
    if (speed <= chart.y.from) continue;
    const Point from = chart.at(order * chart.y.from / 60.0, chart.y.from);
    const Point to = chart.at(order * speed / 60.0, speed);
    sketch.line(Role::centre_line, from, to, fmt::format("order {}", order));
    const bool over = speed == chart.y.to;
    sketch.text(Role::text, {{over ? to.x : to.x + 2.5, over ? to.y - 2.0 : to.y + 2.0},
                             std::to_string(order),
                             5.0,
                             over ? Anchor::middle : Anchor::left,
                             true});
  }
}

Picture map_of(const SpeedFrequencyMap& map, const std::string& file, const Words& words) {
  Sketch sketch(file, spectra_width_mm, map_mm);
  double slowest = 1e300;
  double fastest = -1e300;
  for (const double speed : map.speeds_rad_s) {
    slowest = std::min(slowest, rpm(speed));
    fastest = std::max(fastest, rpm(speed));
  }
  if (!(fastest > slowest)) {
    slowest = (map.rows() > 0 ? slowest : 0.0) - 1.0;
    fastest = slowest + 2.0;
  }
  double full = 0.0;
  for (std::size_t r = 0; r < map.rows(); ++r)
    for (std::size_t line = 1; line < map.lines; ++line) full = std::max(full, map.amplitude_at(r, line));
  const Chart chart{{0.0, static_cast<double>(std::max<std::size_t>(map.lines, 1)) * map.frequency_step_Hz,
                     spectra_left_mm, spectra_right_mm - 6.0},
                    {slowest, fastest, map_mm - 20.0, 36.0}};
  sketch.text(Role::text, {{4.0, 11.0}, file, 6.0, Anchor::left, true, 140.0});
  const double unit = si_per_display_unit(map.motion);
  sketch.text(Role::quiet, {{spectra_right_mm, 21.0},
                            put_in(words.map_scale, fmt::format("{:.3g} {}", full / unit, display_unit(map.motion))),
                            4.4,
                            Anchor::right,
                            false,
                            150.0});
  sketch.text(Role::text, {{spectra_right_mm, 11.0}, put_in(words.sensor, map.sensor), 5.5, Anchor::right, true, 80.0});
  if (full > 0.0) sketch.shades(Role::series_1, shades_of(map, chart, full), "map " + map.sensor);
  chart.draw_frame(sketch, fmt::format("{}, Hz", words.frequency), fmt::format("{}, rpm", words.speed));
  draw_orders(sketch, chart);
  return std::move(sketch.picture());
}

}  // namespace

Picture order_spectrum_picture(const OrderSpectra& spectra, const Words& words) {
  const double height_mm = 28.0 + spectrum_mm * static_cast<double>(spectra.sensors.size()) - 4.0;
  Sketch sketch(name_of(spectra.file), spectra_width_mm, height_mm);
  sketch.text(Role::text, {{4.0, 11.0}, name_of(spectra.file), 6.0, Anchor::left, true, 130.0});
  sketch.text(Role::quiet, {{spectra_right_mm, 11.0},
                            fmt::format("{:.0f} – {:.0f} rpm", rpm(spectra.slowest_rad_s), rpm(spectra.fastest_rad_s)),
                            4.8,
                            Anchor::right});
  for (std::size_t s = 0; s < spectra.sensors.size(); ++s)
    draw_spectrum(sketch, spectra.sensors[s], 28.0 + spectrum_mm * static_cast<double>(s),
                  s + 1 == spectra.sensors.size(), words);
  sketch.text(Role::text, {{spectra_right_mm, height_mm - 4.0}, words.order, 4.6, Anchor::right});
  return std::move(sketch.picture());
}

Picture map_picture(const SpeedFrequencyMaps& maps, const Words& words) {
  std::vector<Picture> pictures;
  for (const SpeedFrequencyMap& map : maps.sensors) pictures.push_back(map_of(map, name_of(maps.file), words));
  return side_by_side(pictures, 2);
}

}  // namespace counterspot
