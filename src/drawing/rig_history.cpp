#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double history_width_mm = 240.0;
constexpr double history_row_mm = 72.0;
constexpr double history_top_mm = 18.0;
constexpr double empty_row_mm = 14.0;
constexpr double left_half_mm = 24.0;
constexpr double left_end_mm = 106.0;
constexpr double right_half_mm = 142.0;
constexpr double right_end_mm = 224.0;

/// An axis of jobs or checks: whole numbers.
Axis counted(std::size_t count, double from_mm, double to_mm) {
  const double step = std::max(1.0, std::ceil(static_cast<double>(count) / 5.0));
  const double most = step * std::ceil((static_cast<double>(count) + 0.5) / step);
  return {0.0, most, from_mm, to_mm, false, step};
}

/// One quantity, job after job, with the band that it should keep to.
struct Strip {
  std::vector<std::vector<double>> curves;  ///< one per sensor or place
  double middle = 0.0;
  double band = 0.0;  ///< on either side
  std::string name;
  std::string along;
  std::vector<std::size_t> beyond = {};  ///< of the first curve; or those that leave the band
};

void draw_strip(Sketch& sketch, const Strip& strip, double from_mm, double to_mm, double top_mm, const Words& words) {
  double far = 1.3 * strip.band;
  for (const auto& curve : strip.curves)
    for (const double value : curve) far = std::max(far, std::abs(value - strip.middle));
  if (!(far > 0.0)) far = 1.0;  // nothing was measured yet
  const Chart chart{counted(strip.curves.front().size(), from_mm, to_mm),
                    rounded_axis(strip.middle - far, strip.middle + far, top_mm + 40.0, top_mm + 6.0)};
  chart.draw_frame(sketch, strip.along, strip.name, words);
  for (const double side : {-strip.band, strip.band})
    sketch.line(Role::limit, chart.at(chart.x.from, strip.middle + side), chart.at(chart.x.to, strip.middle + side),
                "band");
  for (std::size_t c = 0; c < strip.curves.size(); ++c) {
    std::vector<double> xs;
    for (std::size_t i = 0; i < strip.curves[c].size(); ++i) xs.push_back(static_cast<double>(i + 1));
    chart.draw_curve(sketch, series_role(c), xs, strip.curves[c], "history");
    for (std::size_t i = 0; i < xs.size(); ++i) {
      const Point at = chart.at(xs[i], strip.curves[c][i]);
      if (std::find(strip.beyond.begin(), strip.beyond.end(), i) != strip.beyond.end())
        draw_cross(sketch, at, 2.8, "beyond");
      draw_marker(sketch, series_role(c), c, at, 1.6, Fill::solid, fmt::format("reading {} {}", c, i + 1));
    }
  }
}

}  // namespace

Picture coefficients_picture(const std::vector<CoefficientTrend>& trends, const Words& words) {
  const PictureWords& texts = words.picture();
  Sketch sketch(texts.coefficients_of_jobs, history_width_mm,
                history_top_mm + (trends.empty() ? empty_row_mm : history_row_mm * static_cast<double>(trends.size())));
  sketch.name(Role::text, {{6.0, 12.0}, texts.coefficients_of_jobs, 6.5, Anchor::left, true, history_width_mm - 12.0});
  if (trends.empty())
    sketch.name(Role::text,
                {{6.0, history_top_mm + 6.0}, texts.too_few_jobs, 4.6, Anchor::left, false, history_width_mm - 12.0});
  for (std::size_t t = 0; t < trends.size(); ++t) {
    const CoefficientTrend& trend = trends[t];
    const double top = history_top_mm + history_row_mm * static_cast<double>(t);
    sketch.name(Role::text, {{6.0, top + 4.0},
                             fmt::format("{}, {}, {}", put_in(words.sensor, trend.sensor), trend.rig, trend.family),
                             4.6,
                             Anchor::left,
                             true,
                             history_width_mm - 12.0});
    Strip size{{{}}, 100.0, 100.0 * trend.band, in_unit(texts.size_of_first, "%"), words.job_after_job, trend.beyond};
    Strip turned{{{}},        0.0, degrees(trend.band), in_unit(texts.turned_by, words.degree), words.job_after_job,
                 trend.beyond};
    for (const Phasor& ratio : trend.ratios) {
      size.curves[0].push_back(100.0 * std::abs(ratio));
      turned.curves[0].push_back(degrees(std::arg(ratio)));
    }
    draw_strip(sketch, size, left_half_mm, left_end_mm, top + 13.0, words);
    draw_strip(sketch, turned, right_half_mm, right_end_mm, top + 13.0, words);
  }
  return std::move(sketch.picture());
}

namespace {

/// What the newest check was held to.
double allowed_at(const std::vector<RigCheck>& checks, RigPlace place) {
  if (checks.empty()) return 0.0;
  const auto& findings = checks.back().findings;
  const auto found = std::find_if(findings.begin(), findings.end(), [&](const auto& f) { return f.place == place; });
  return found == findings.end() ? 0.0 : found->allowed;
}

}  // namespace

Picture rig_health_picture(const std::vector<RigCheck>& checks, const std::array<std::string, 2>& sensors,
                           const std::array<std::string, 2>& planes, const Words& words) {
  const PictureWords& texts = words.picture();
  Sketch sketch(texts.rig_health, history_width_mm, history_top_mm + 2.0 * history_row_mm);
  sketch.name(Role::text, {{6.0, 12.0}, texts.rig_health, 6.5, Anchor::left, true, history_width_mm - 12.0});
  for (std::size_t s : {0U, 1U})
    draw_key(sketch, s, fmt::format("{}, {}", put_in(words.sensor, sensors[s]), put_in(words.plane, planes[s])),
             {left_half_mm + 106.0 * static_cast<double>(s), 20.0}, 100.0);
  const double change = allowed_at(checks, RigPlace::sensors);
  const double half_g_mm = 0.5 * allowed_at(checks, RigPlace::adapters);
  const char* along = texts.check_after_check;
  Strip size{{{}, {}}, 0.0, 100.0 * change, in_unit(texts.sensor_change, "%"), along};
  Strip turned{{{}, {}}, 0.0, degrees(change), in_unit(texts.turned_by, words.degree), along};
  Strip moved{{{}, {}}, half_g_mm, half_g_mm, in_unit(texts.bare_moved, "g·mm"), along};
  for (std::size_t i = 0; i < checks.size(); ++i) {
    for (std::size_t s : {0U, 1U}) {
      size.curves[s].push_back(100.0 * (std::abs(checks[i].change[s]) - 1.0));
      turned.curves[s].push_back(degrees(std::arg(checks[i].change[s])));
      moved.curves[s].push_back(in_g_mm(std::abs(checks[i].moved_kg_m[s])));
    }
    if (checks[i].within) continue;
    for (Strip* strip : {&size, &turned, &moved}) strip->beyond.push_back(i);
  }
  draw_strip(sketch, size, left_half_mm, left_end_mm, history_top_mm + 10.0, words);
  draw_strip(sketch, turned, right_half_mm, right_end_mm, history_top_mm + 10.0, words);
  draw_strip(sketch, moved, left_half_mm, right_end_mm, history_top_mm + history_row_mm + 4.0, words);
  return std::move(sketch.picture());
}

Picture rig_health_picture(const std::vector<RigCheck>& checks, const Rig& rig, const Shaft& reference,
                           const Words& words) {
  return rig_health_picture(checks, {rig.sensors.at(0).name, rig.sensors.at(1).name},
                            {reference.planes.at(0).name, reference.planes.at(1).name}, words);
}

}  // namespace counterspot
