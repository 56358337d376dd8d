#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_charts.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double time_width_mm = 240.0;
constexpr double time_left_mm = 34.0;
constexpr double time_right_mm = 232.0;
constexpr double strip_mm = 46.0;
constexpr int most_columns = 1500;  // more than the paper resolves

/// The curve's highest and lowest in each narrow column, so that nothing short is lost.
std::vector<Point> envelope(const TraceChannel& channel, const Trace& trace, const Chart& chart) {
  std::vector<Point> points;
  const std::size_t count = channel.samples.size();
  const std::size_t step = std::max<std::size_t>(1, count / most_columns);
  for (std::size_t begin = 0; begin < count; begin += step) {
    const auto from = channel.samples.begin() + static_cast<std::ptrdiff_t>(begin);
    const auto to = channel.samples.begin() + static_cast<std::ptrdiff_t>(std::min(count, begin + step));
    const double time = 1e3 * (trace.begin_s + static_cast<double>(begin) / trace.sample_rate_Hz);
    const auto [low, high] = std::minmax_element(from, to);
    if (!std::isfinite(*low) || !std::isfinite(*high)) continue;
    points.push_back(chart.at(time, *low));
    if (high != low) points.push_back(chart.at(time, *high));
  }
  return points;
}

Axis range_of(const TraceChannel& channel, double bottom, double top) {
  double least = 1e300;
  double most = -1e300;
  for (const double value : channel.samples) {
    if (!std::isfinite(value)) continue;
    least = std::min(least, value);
    most = std::max(most, value);
  }
  return least > most ? Axis{-1.0, 1.0, bottom, top} : rounded_axis(least, most, bottom, top);
}

}  // namespace

Picture trace_picture(const Trace& trace, const Words& words) {
  const double height_mm = 24.0 + strip_mm * static_cast<double>(trace.channels.size()) + 14.0;
  const std::string name = trace.file.substr(trace.file.find_last_of('/') + 1);
  Sketch sketch(name, time_width_mm, height_mm);
  sketch.name(Role::text, {{4.0, 11.0}, name, 6.0, Anchor::left, true, 140.0});
  if (!trace.edges_s.empty())
    sketch.text(Role::quiet, {{time_right_mm, 11.0}, words.tach_edges, 4.6, Anchor::right, false, 80.0});
  const std::size_t count = trace.channels.empty() ? 0 : trace.channels.front().samples.size();
  const double begin_ms = 1e3 * trace.begin_s;
  const Axis time{begin_ms, begin_ms + 1e3 * std::max(1.0, static_cast<double>(count)) / trace.sample_rate_Hz,
                  time_left_mm, time_right_mm};
  for (std::size_t c = 0; c < trace.channels.size(); ++c) {
    const TraceChannel& channel = trace.channels[c];
    const double top = 28.0 + strip_mm * static_cast<double>(c);
    const Chart chart{time, range_of(channel, top + strip_mm - 16.0, top)};
    const bool last = c + 1 == trace.channels.size();
    chart.draw_frame(sketch, last ? in_unit(words.time, "ms") : "",
                     channel.unit.empty() ? channel.name : in_unit(channel.name, printed_unit(channel.unit)), words);
    for (const double edge_s : trace.edges_s) {
      const double x = time.at(1e3 * edge_s);
      if (x > time_right_mm + 0.1 || x < time_left_mm - 0.1) continue;
      sketch.line(Role::centre_line, {x, top}, {x, top + strip_mm - 16.0}, "edge");
      sketch.polygon(Role::mark, {{x - 2.0, top - 4.0}, {x + 2.0, top - 4.0}, {x, top}}, Fill::solid);
    }
    sketch.path(Role::series_1, envelope(channel, trace, chart), "samples " + channel.name);
  }
  return std::move(sketch.picture());
}

namespace {

constexpr double trend_height_mm = 140.0;

void draw_point(Sketch& sketch, const TrendPoint& point, Point at) {
  const std::string meaning = "job " + point.job;
  if (point.verdict == Verdict::outside) {
    draw_cross(sketch, at, 2.4, meaning);
  } else if (point.verdict == Verdict::within) {
    draw_marker(sketch, Role::on_shaft, 0, at, 1.9, Fill::solid, meaning);
  } else {
    draw_marker(sketch, Role::on_shaft, 3, at, 2.2, Fill::paper, meaning);
  }
}

void draw_trend_key(Sketch& sketch, const Words& words) {
  double x = time_left_mm;
  for (const auto& [verdict, name] :
       {std::pair{Verdict::within, words.within}, {Verdict::outside, words.outside}, {Verdict::unsure, words.unsure}}) {
    draw_point(sketch, {"", 0.0, verdict}, {x, 21.0});
    sketch.text(Role::text, {{x + 5.0, 23.0}, name, 4.6});
    x += 54.0;
  }
}

}  // namespace

Picture trend_picture(const std::vector<TrendPoint>& points, const std::optional<ControlChart>& control,
                      const Words& words) {
  Sketch sketch(words.residual_over_limit, time_width_mm, trend_height_mm);
  sketch.name(Role::text, {{6.0, 12.0}, words.residual_over_limit, 6.5, Anchor::left, true, 170.0});
  draw_trend_key(sketch, words);
  double highest = 1.1;
  for (const TrendPoint& point : points) highest = std::max(highest, point.ratio);
  if (control) highest = std::max(highest, control->upper);
  const Chart chart{{0.5, std::max(1.5, static_cast<double>(points.size()) + 0.5), time_left_mm, 196.0},
                    rounded_axis(0.0, 105.0 * highest, trend_height_mm - 18.0, 36.0)};
  chart.draw_frame(sketch, words.job_after_job, "%", words);
  std::vector<Level> levels;
  levels.reserve(4);  // GCC 12 at -O3 takes the growth of so short a list for a write beyond its end
  levels.push_back({Role::limit, 100.0, words.limit});
  if (control) {
    levels.push_back({Role::earlier, 100.0 * control->upper, words.control_limits});
    levels.push_back({Role::earlier, 100.0 * control->centre, words.centre});
    if (control->lower > 0.0) levels.push_back({Role::earlier, 100.0 * control->lower, words.control_limits});
  }
  chart.draw_levels(sketch, std::move(levels));
  std::vector<double> xs;
  std::vector<double> ys;
  for (std::size_t i = 0; i < points.size(); ++i) {
    xs.push_back(static_cast<double>(i + 1));
    ys.push_back(100.0 * points[i].ratio);
  }
  chart.draw_curve(sketch, Role::quiet, xs, ys, "trend");
  for (std::size_t i = 0; i < points.size(); ++i) draw_point(sketch, points[i], chart.at(xs[i], ys[i]));
  return std::move(sketch.picture());
}

}  // namespace counterspot
