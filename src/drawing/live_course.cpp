#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_live.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double course_width_mm = 300.0;
constexpr double course_height_mm = 190.0;
constexpr double course_left_mm = 30.0;
constexpr double course_right_mm = 290.0;
constexpr double course_split_mm = 122.0;
constexpr double course_wrap_deg = 180.0;

}  // namespace

Picture course_picture(const Sweep& course, double now_s, double seconds, const std::string& said, const Words& words) {
  Sketch sketch(words.time, course_width_mm, course_height_mm);
  sketch.name(Role::text, {{4.0, 11.0}, said, 6.0, Anchor::left, true, course_right_mm - 4.0});
  std::vector<double> times;
  for (const SweepPoint& point : course.points) times.push_back(point.time_s - now_s);
  double highest = 0.0;
  for (const SweepPoint& point : course.points)
    for (std::size_t s = 0; s < course.sensors.size(); ++s)
      if (const double size = std::abs(point.vectors[s].front()) / si_per_display_unit(course.motions[s]);
          std::isfinite(size) && point.time_s >= now_s - seconds)
        highest = std::max(highest, size);
  const Axis time{-seconds, 0.0, course_left_mm, course_right_mm, false, seconds / 6.0};
  const Chart amplitude{time, rounded_axis(0.0, highest > 0.0 ? 1.05 * highest : 1.0, course_split_mm - 14.0, 36.0)};
  const Chart phase{time, {0.0, 360.0, course_height_mm - 18.0, course_split_mm, false, 90.0}};
  amplitude.draw_frame(sketch, "", fmt::format("{}, {}", words.amplitude, words.peak), words);
  phase.draw_frame(sketch, in_unit(words.time, "s"), in_unit(words.phase_lag, words.degree), words);
  for (std::size_t s = 0; s < course.sensors.size(); ++s) {
    std::vector<double> sizes;
    std::vector<double> directions;
    for (const SweepPoint& point : course.points) {
      const Phasor z = point.vectors[s].front();
      const bool known = std::isfinite(std::abs(z)) && point.time_s >= now_s - seconds;
      sizes.push_back(known ? std::abs(z) / si_per_display_unit(course.motions[s]) : std::nan(""));
      directions.push_back(known ? direction_deg(z) : std::nan(""));
    }
    const std::string name =
        fmt::format("{}, {}", put_in(words.sensor, course.sensors[s]), printed_unit(display_unit(course.motions[s])));
    amplitude.draw_curve(sketch, series_role(s), times, sizes, "amplitude " + name);
    phase.draw_curve(sketch, series_role(s), times, directions, "phase " + name, course_wrap_deg);
    draw_key(sketch, s, name, {s % 2 == 0 ? course_left_mm : 160.0, 20.0}, 126.0);
    for (std::size_t i = sizes.size(); i-- > 0;) {  // where it is now
      if (!std::isfinite(sizes[i])) continue;
      draw_marker(sketch, series_role(s), s, amplitude.at(times[i], sizes[i]), 2.2, Fill::solid, "newest " + name);
      draw_marker(sketch, series_role(s), s, phase.at(times[i], directions[i]), 2.2, Fill::solid);
      break;
    }
  }
  return std::move(sketch.picture());
}

}  // namespace counterspot
