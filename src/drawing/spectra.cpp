#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double spectra_width_mm = 240.0;
constexpr double spectra_left_mm = 34.0;
constexpr double spectra_right_mm = 232.0;
constexpr double spectrum_mm = 74.0;  // one sensor
constexpr double steady_letters_mm = 3.8;
constexpr double map_mm = 150.0;
constexpr double decades_of_lines = 4.0;
constexpr double decades_of_shades = 3.0;
constexpr int map_columns = 792;  // 4 to the millimetre: what a screen and a printer show
constexpr int map_rows = 360;
constexpr int orders_drawn = 4;

std::string name_of(const std::string& file) {
  return file.substr(file.find_last_of('/') + 1);
}

/// Where a steady line or an edge of a band lies among the orders.
double order_of(double frequency_Hz, double turns_s) {
  return frequency_Hz / turns_s;
}

/// What noise of this strength shows as in a line of the spectrum: the root of twice its power in the line's bandwidth.
double floor_of(const NoiseBand& band, double line_Hz) {
  return band.rms * std::sqrt(2.0 * line_Hz / (band.to_Hz - band.from_Hz));
}

void draw_noise_floor(Sketch& sketch, const Chart& chart, const SensorTrack& sensor, double line_Hz, double turns_s,
                      double unit, const Words& words) {
  std::vector<Point> floor;
  for (const NoiseBand& band : sensor.bands) {
    const double from = std::max(order_of(band.from_Hz, turns_s), chart.x.from);
    const double to = std::min(order_of(band.to_Hz, turns_s), chart.x.to);
    const double height = floor_of(band, line_Hz) / unit;
    if (!(to > from) || !chart.y.holds(height)) continue;
    floor.push_back(chart.at(from, height));
    floor.push_back(chart.at(to, height));
  }
  if (floor.empty()) return;
  const Point end = floor.back();
  sketch.path(Role::uncertainty, std::move(floor), "noise floor " + sensor.name);
  sketch.name(Role::quiet, {{chart.x.to_mm - 1.0, end.y - 2.0}, words.picture().noise_floor, 3.8, Anchor::right});
}

/// Steady lines, from above, with their frequencies where there is room for them.
void draw_steady_lines(Sketch& sketch, const Chart& chart, const SensorTrack& sensor, double turns_s,
                       const Words& words) {
  double taken_to_mm = -1e9;
  for (const SteadyLine& line : sensor.lines) {
    const double order = order_of(line.frequency_Hz, turns_s);
    if (!chart.x.holds(order)) continue;
    const double x = chart.x.at(order);
    sketch.line(Role::limit, {x, chart.y.to_mm}, {x, chart.y.from_mm}, "steady line " + sensor.name);
    sketch.polygon(Role::limit, {{x - 1.5, chart.y.to_mm - 3.0}, {x + 1.5, chart.y.to_mm - 3.0}, {x, chart.y.to_mm}},
                   Fill::solid);
    const std::string name = number_text(line.frequency_Hz, 1, words);
    const double half_mm = 0.5 * width_of(name, steady_letters_mm);
    if (x - half_mm < taken_to_mm || x + half_mm > spectra_width_mm) continue;
    sketch.text(Role::limit, {{x, chart.y.to_mm - 4.0}, name, steady_letters_mm, Anchor::middle});
    taken_to_mm = x + half_mm + 2.0;
  }
}

void draw_spectrum(Sketch& sketch, const OrderSpectrum& spectrum, const SensorTrack* beside, double turns_s, double top,
                   bool last, const Words& words) {
  const double bottom = top + spectrum_mm - 26.0;
  double highest = 0.0;
  for (std::size_t i = 1; i < spectrum.amplitudes.size(); ++i) highest = std::max(highest, spectrum.amplitudes[i]);
  const double unit = si_per_display_unit(spectrum.motion);
  const double most = std::pow(10.0, std::ceil(std::log10(std::max(highest / unit, 1e-12))));
  const double top_order = spectrum.order_at(std::max<std::size_t>(spectrum.amplitudes.size(), 2) - 1);
  const Chart chart{{0.0, top_order, spectra_left_mm, spectra_right_mm},
                    {most * std::pow(10.0, -decades_of_lines), most, bottom, top, true}};
  chart.draw_decades(sketch, "", words);
  sketch.name(Role::text, {{4.0, top - 10.0},
                           fmt::format("{}, {}, {}", put_in(words.sensor, spectrum.sensor),
                                       printed_unit(display_unit(spectrum.motion)), words.peak),
                           4.6,
                           Anchor::left,
                           false,
                           spectra_right_mm - 4.0});
  const int step = std::max(1, static_cast<int>(std::ceil(top_order / 20.0)));
  for (int order = 0; order <= static_cast<int>(top_order + 1e-9); order += step) {
    sketch.line(Role::grid, {chart.x.at(order), bottom}, {chart.x.at(order), top});
    if (last) sketch.text(Role::text, {{chart.x.at(order), bottom + 6.5}, std::to_string(order), 4.2, Anchor::middle});
  }
  std::vector<Point> curve;
  for (std::size_t i = 1; i < spectrum.amplitudes.size(); ++i)
    curve.push_back(chart.at(spectrum.order_at(i), std::max(spectrum.amplitudes[i] / unit, chart.y.from)));
  sketch.path(Role::series_1, std::move(curve), "spectrum " + spectrum.sensor);
  if (beside != nullptr && turns_s > 0.0) {
    draw_noise_floor(sketch, chart, *beside, spectrum.noise_bandwidth * turns_s, turns_s, unit, words);
    draw_steady_lines(sketch, chart, *beside, turns_s, words);
  }
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

/// What the shades mean, in equal ratios.
void draw_scale(Sketch& sketch, double full, double top, double bottom, const std::string& unit, const Words& words) {
  constexpr double bar_left_mm = 216.0;
  constexpr double bar_mm = 5.0;
  Shades shades{{bar_left_mm, top}, bar_mm, bottom - top, 1, 120, {}};
  for (int row = 0; row < shades.rows; ++row)
    shades.ink.push_back(1.0F - static_cast<float>(row) / static_cast<float>(shades.rows - 1));
  sketch.shades(Role::series_1, std::move(shades), "scale");
  sketch.polygon(
      Role::quiet,
      {{bar_left_mm, top}, {bar_left_mm + bar_mm, top}, {bar_left_mm + bar_mm, bottom}, {bar_left_mm, bottom}},
      Fill::none);
  for (int decade = 0; decade <= static_cast<int>(decades_of_shades); ++decade) {
    const double y = top + (bottom - top) * decade / decades_of_shades;
    const std::string value = fmt::format("{:.2g}", full * std::pow(10.0, -decade));
    sketch.line(Role::quiet, {bar_left_mm + bar_mm, y}, {bar_left_mm + bar_mm + 1.5, y});
    sketch.name(
        Role::text,
        {{bar_left_mm + bar_mm + 2.5, y + 1.6}, with_decimal_sign(value, words), 3.4, Anchor::left, false, 16.0});
  }
  sketch.name(Role::text, {{bar_left_mm, top - 4.0}, unit, 3.8, Anchor::left, false, 23.0});
}

/// Numbers and short ticks outside the map: a line across it would look like a steady one.
void draw_map_frame(Sketch& sketch, const Chart& chart, const Words& words) {
  Chart outside = chart;
  const auto frequencies = round_steps(chart.x.from, chart.x.to, 8);
  const auto speeds = round_steps(chart.y.from, chart.y.to, 8);
  const auto number = [&](double value, const std::vector<double>& all) {
    return with_decimal_sign(axis_number(value, all.size() > 1 ? all[1] - all[0] : 1.0), words);
  };
  for (const double value : frequencies) {
    const double x = outside.x.at(value);
    sketch.line(Role::outline, {x, chart.y.from_mm}, {x, chart.y.from_mm + 2.0}, "tick");
    sketch.text(Role::text, {{x, chart.y.from_mm + 7.5}, number(value, frequencies), 4.2, Anchor::middle});
  }
  for (const double value : speeds) {
    const double y = outside.y.at(value);
    sketch.line(Role::outline, {chart.x.from_mm - 2.0, y}, {chart.x.from_mm, y}, "tick");
    sketch.text(Role::text, {{chart.x.from_mm - 3.5, y + 2.0}, number(value, speeds), 4.2, Anchor::right});
  }
  sketch.path(Role::outline,
              {{chart.x.from_mm, chart.y.to_mm}, {chart.x.from_mm, chart.y.from_mm}, {chart.x.to_mm, chart.y.from_mm}});
  sketch.name(Role::text,
              {{chart.x.to_mm, chart.y.from_mm + 20.5}, in_unit(words.frequency, "Hz"), 4.6, Anchor::right});
  sketch.name(Role::text,
              {{4.0, chart.y.to_mm - 6.0}, in_unit(words.speed, words.rpm), 4.6, Anchor::left, false, 60.0});
}

/// A frequency at which there is more than beside it at every speed, from below to above: hum, or a neighbour.
void draw_steady_of_map(Sketch& sketch, const SpeedFrequencyMap& map, const Chart& chart, const Words& words) {
  double taken_to_mm = -1e9;
  for (const double frequency_Hz : steady_lines_of(map)) {
    const double x = chart.x.at(frequency_Hz);
    sketch.polygon(Role::limit,
                   {{x - 1.8, chart.y.from_mm + 3.5}, {x + 1.8, chart.y.from_mm + 3.5}, {x, chart.y.from_mm}},
                   Fill::solid, fmt::format("steady line {:.1f}", frequency_Hz));
    sketch.polygon(Role::limit, {{x - 1.8, chart.y.to_mm - 3.5}, {x + 1.8, chart.y.to_mm - 3.5}, {x, chart.y.to_mm}},
                   Fill::solid);
    const std::string name = number_text(frequency_Hz, 0, words);
    const double half_mm = 0.5 * width_of(name, 3.6);
    if (x - half_mm < taken_to_mm) continue;
    sketch.text(Role::limit, {{x, chart.y.from_mm + 13.5}, name, 3.6, Anchor::middle});
    taken_to_mm = x + half_mm + 1.5;
  }
  if (taken_to_mm > 0.0)
    sketch.name(
        Role::quiet,
        {{chart.x.from_mm, chart.y.from_mm + 20.5}, words.picture().steady_in_map, 3.8, Anchor::left, false, 100.0});
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
  const Chart chart{
      {0.0, static_cast<double>(std::max<std::size_t>(map.lines, 1)) * map.frequency_step_Hz, spectra_left_mm, 204.0},
      {slowest, fastest, map_mm - 24.0, 34.0}};
  sketch.name(Role::text, {{4.0, 11.0}, file, 6.0, Anchor::left, true, 130.0});
  sketch.name(Role::text, {{spectra_right_mm, 11.0}, put_in(words.sensor, map.sensor), 5.5, Anchor::right, true, 80.0});
  const double unit = si_per_display_unit(map.motion);
  if (full > 0.0) {
    sketch.shades(Role::series_1, shades_of(map, chart, full), "map " + map.sensor);
    draw_scale(sketch, full / unit, 34.0, map_mm - 24.0, printed_unit(display_unit(map.motion)), words);
  }
  draw_map_frame(sketch, chart, words);
  draw_orders(sketch, chart);
  draw_steady_of_map(sketch, map, chart, words);
  return std::move(sketch.picture());
}

}  // namespace

Picture order_spectrum_picture(const OrderSpectra& spectra, const std::vector<SensorTrack>& beside,
                               const Words& words) {
  const double height_mm = 34.0 + spectrum_mm * static_cast<double>(spectra.sensors.size()) - 4.0;
  Sketch sketch(name_of(spectra.file), spectra_width_mm, height_mm);
  sketch.name(Role::text, {{4.0, 11.0}, name_of(spectra.file), 6.0, Anchor::left, true, 130.0});
  const std::string speeds =
      fmt::format("{:.0f} – {:.0f}{}", rpm(spectra.slowest_rad_s), rpm(spectra.fastest_rad_s), words.rpm);
  sketch.name(Role::quiet, {{spectra_right_mm, 11.0}, speeds, 4.8, Anchor::right, false, 90.0});
  if (!spectra.sensors.empty()) {
    const bool steady =
        std::any_of(beside.begin(), beside.end(), [](const SensorTrack& sensor) { return !sensor.lines.empty(); });
    const std::string step = with_decimal_sign(fmt::format("{:.3g}", spectra.sensors.front().order_step), words);
    const std::string apart = put_in(words.picture().lines_apart, step);
    const std::string said = steady ? fmt::format("{}; {}", apart, words.picture().steady_in_map) : apart;
    sketch.name(Role::quiet, {{spectra_right_mm, 18.0}, said, 4.0, Anchor::right, false, 220.0});
  }
  const double turns_s = 0.5 * (spectra.slowest_rad_s + spectra.fastest_rad_s) / turn_rad;
  for (std::size_t s = 0; s < spectra.sensors.size(); ++s) {
    const OrderSpectrum& spectrum = spectra.sensors[s];
    const auto sensor =
        std::find_if(beside.begin(), beside.end(), [&](const SensorTrack& b) { return b.name == spectrum.sensor; });
    draw_spectrum(sketch, spectrum, sensor == beside.end() ? nullptr : &*sensor, turns_s,
                  36.0 + spectrum_mm * static_cast<double>(s), s + 1 == spectra.sensors.size(), words);
  }
  sketch.text(Role::text, {{spectra_right_mm, height_mm - 3.0}, words.order, 4.6, Anchor::right});
  return std::move(sketch.picture());
}

Picture map_picture(const SpeedFrequencyMaps& maps, const Words& words) {
  std::vector<Picture> pictures;
  for (const SpeedFrequencyMap& map : maps.sensors) pictures.push_back(map_of(map, name_of(maps.file), words));
  return side_by_side(pictures, 2);
}

}  // namespace counterspot
