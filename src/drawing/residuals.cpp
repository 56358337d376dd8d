#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_course.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/measured.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

OverLimit over_limit(const SpinVector& spin, double limit_kg_m) {
  const double size = std::abs(spin.unbalance_kg_m);
  Eigen::Vector2d along(1.0, 0.0);
  if (size > 0.0) along = Eigen::Vector2d(spin.unbalance_kg_m.real(), spin.unbalance_kg_m.imag()) / size;
  const double u = std::sqrt(std::max(0.0, along.dot(spin.covariance * along)));
  return {100.0 * size / limit_kg_m, 100.0 * coverage_factor * u / limit_kg_m};
}

namespace {

constexpr double residuals_width_mm = 224.0;
constexpr double residuals_height_mm = 140.0;
constexpr double residuals_left_mm = 34.0;
constexpr double residuals_right_mm = 186.0;
constexpr double room_of_label_mm = 22.0;
constexpr double least_percent = 0.1;  // smaller than any verdict asks for

std::vector<OverLimit> readings_of(const VectorDiagram& diagram) {
  std::vector<OverLimit> readings;
  for (const SpinVector& spin : diagram.spins) readings.push_back(over_limit(spin, *diagram.limit_kg_m));
  return readings;
}

/// Whole decades that hold all readings and the limit.
Axis decades_of(const std::vector<std::vector<OverLimit>>& places) {
  double least = 50.0;
  double most = 200.0;
  for (const auto& readings : places) {
    for (const OverLimit& reading : readings) {
      least = std::min(least, reading.percent);
      most = std::max(most, reading.percent + reading.expanded_percent);
    }
  }
  const auto power = [](double value) { return std::pow(10.0, value); };
  return {power(std::floor(std::log10(std::max(least, least_percent)))), power(std::ceil(std::log10(most))),
          residuals_height_mm - 22.0, 40.0, true};
}

/// Numbers, as the vectors have them, with names where there is room for them; of as many as there is room for.
void draw_spin_labels(Sketch& sketch, const Chart& chart, const std::vector<SpinVector>& spins) {
  const auto count = spins.size();
  const double room_mm =
      (residuals_right_mm - residuals_left_mm) / static_cast<double>(std::max<std::size_t>(count, 1));
  const auto every = static_cast<std::size_t>(std::ceil(9.0 / room_mm));
  for (std::size_t i = 0; i < count; i += every) {
    const double x = chart.x.at(static_cast<double>(i + 1));
    const bool named = room_mm >= room_of_label_mm;
    sketch.name(Role::text, {{x, chart.y.from_mm + 6.5},
                             named ? fmt::format("{} {}", i + 1, spins[i].label) : std::to_string(i + 1),
                             4.0,
                             Anchor::middle,
                             false,
                             named ? room_mm - 3.0 : 0.0});
  }
}

void draw_readings(Sketch& sketch, const Chart& chart, std::size_t place, std::size_t places,
                   const VectorDiagram& diagram, const std::vector<OverLimit>& readings) {
  const double aside_mm = 2.4 * (static_cast<double>(place) - 0.5 * static_cast<double>(places - 1));
  std::vector<Point> curve;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const auto height = [&](double percent) { return chart.y.at(std::clamp(percent, chart.y.from, chart.y.to)); };
    const OverLimit& reading = readings[i];
    const Point at{chart.x.at(static_cast<double>(i + 1)) + aside_mm, height(reading.percent)};
    curve.push_back(at);
    if (reading.expanded_percent > 0.0)
      sketch.line(Role::quiet, {at.x, height(reading.percent - reading.expanded_percent)},
                  {at.x, height(reading.percent + reading.expanded_percent)}, "plus and minus");
    draw_marker(sketch, series_role(place), place, at, 1.8, Fill::solid,
                fmt::format("residual {} {}", diagram.plane, i + 1));
  }
  if (curve.size() > 1) sketch.path(series_role(place), std::move(curve), "residuals " + diagram.plane);
}

}  // namespace

Picture residuals_picture(const std::vector<VectorDiagram>& diagrams, const Words& words) {
  const PictureWords& texts = words.picture();
  Sketch sketch(texts.residual_of_spins, residuals_width_mm, residuals_height_mm);
  sketch.name(Role::text, {{6.0, 12.0}, texts.residual_of_spins, 6.5, Anchor::left, true, residuals_width_mm - 12.0});
  std::vector<VectorDiagram> held;
  std::copy_if(diagrams.begin(), diagrams.end(), std::back_inserter(held),
               [](const VectorDiagram& diagram) { return diagram.limit_kg_m.has_value(); });
  std::vector<std::vector<OverLimit>> places;
  std::size_t spins = 0;
  for (const VectorDiagram& diagram : held) {
    places.push_back(readings_of(diagram));
    spins = std::max(spins, diagram.spins.size());
  }
  const Chart chart{
      {0.5, static_cast<double>(std::max<std::size_t>(spins, 1)) + 0.5, residuals_left_mm, residuals_right_mm},
      decades_of(places)};
  chart.draw_decades(sketch, "%", words);
  sketch.path(Role::outline, {chart.at(chart.x.from, chart.y.to), chart.at(chart.x.from, chart.y.from),
                              chart.at(chart.x.to, chart.y.from)});
  chart.draw_levels(sketch, {{Role::limit, 100.0, words.limit}});
  if (!held.empty()) draw_spin_labels(sketch, chart, held.front().spins);
  sketch.name(Role::text, {{residuals_right_mm, residuals_height_mm - 6.0}, texts.spin_after_spin, 4.6, Anchor::right});
  const double key_mm =
      (residuals_width_mm - residuals_left_mm) / static_cast<double>(std::max<std::size_t>(held.size(), 1));
  for (std::size_t p = 0; p < held.size(); ++p) {
    draw_readings(sketch, chart, p, held.size(), held[p], places[p]);
    draw_key(sketch, p, put_in(words.plane, held[p].plane), {residuals_left_mm + key_mm * static_cast<double>(p), 22.0},
             std::min(key_mm - 4.0, 90.0));
  }
  return std::move(sketch.picture());
}

namespace {

constexpr double bars_left_mm = 88.0;
constexpr double bars_right_mm = 184.0;
constexpr double bar_row_mm = 7.0;
constexpr double place_head_mm = 12.0;

double together(const BudgetTable& budget, std::size_t place) {
  double sum = 0.0;
  for (const BudgetRow& row : budget.rows) sum += row.u_kg_m[place] * row.u_kg_m[place];
  return std::sqrt(sum);
}

/// A place as a table of the budget has it.
std::string place_named(const std::string& text, const Words& words) {
  const HeldPlace place = place_of(text);
  switch (place.kind) {
    case HeldPlace::Kind::plane: return put_in(words.plane, place.name);
    case HeldPlace::Kind::support: return put_in(words.support, place.name);
    case HeldPlace::Kind::mode: return put_in(words.mode, place.name);
  }
  return text;
}

struct Bars {
  Sketch& sketch;
  const Words& words;
  double full_kg_m = 0.0;
  double y = 0.0;

  void draw(const std::string& name, double u_kg_m, bool sum) {
    const double end = bars_left_mm + (bars_right_mm - bars_left_mm) * u_kg_m / full_kg_m;
    sketch.name(Role::text, {{bars_left_mm - 3.0, y}, name, 4.2, Anchor::right, sum, bars_left_mm - 10.0});
    sketch.polygon(Role::series_1, {{bars_left_mm, y - 4.2}, {end, y - 4.2}, {end, y}, {bars_left_mm, y}},
                   sum ? Fill::solid : Fill::hatch, "bar");
    sketch.name(Role::text,
                {{end + 2.5, y}, with_decimal_sign(significant_text(in_g_mm(u_kg_m), 2), words) + " g·mm", 4.2});
    y += bar_row_mm;
  }
};

}  // namespace

Picture budget_picture(const BudgetTable& budget, const Words& words) {
  const PictureWords& texts = words.picture();
  const auto places = budget.places.size();
  const double place_mm = place_head_mm + bar_row_mm * static_cast<double>(budget.rows.size() + 1);
  Sketch sketch(texts.unsure_by, residuals_width_mm, 26.0 + place_mm * static_cast<double>(places));
  sketch.name(Role::text, {{6.0, 12.0}, texts.unsure_by, 6.5, Anchor::left, true, residuals_width_mm - 12.0});
  sketch.name(Role::quiet,
              {{6.0, 20.0}, texts.standard_of_magnitude, 4.2, Anchor::left, false, residuals_width_mm - 12.0});
  double full = 0.0;
  for (std::size_t p = 0; p < places; ++p) full = std::max(full, together(budget, p));
  Bars bars{sketch, words, full > 0.0 ? full : 1.0, 28.0};
  for (std::size_t p = 0; p < places; ++p) {
    sketch.name(Role::text, {{6.0, bars.y + 1.0},
                             place_named(budget.places[p], words),
                             5.0,
                             Anchor::left,
                             true,
                             residuals_width_mm - 12.0});
    bars.y += place_head_mm - 3.0;
    for (const BudgetRow& row : budget.rows) bars.draw(texts.of_source(row.source), row.u_kg_m[p], false);
    bars.draw(texts.together, together(budget, p), true);
    bars.y += 3.0;
  }
  return std::move(sketch.picture());
}

}  // namespace counterspot
