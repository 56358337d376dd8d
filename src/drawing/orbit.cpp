#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double orbit_size_mm = 150.0;
constexpr Point orbit_middle{75.0, 82.0};
constexpr double orbit_full_mm = 48.0;
constexpr double orbit_beside_mm = 23.0;  // right of the largest ring
constexpr int orbit_points = 360;         // one per degree

/// How far a sensor sees the shaft moved at each degree after the tach's edge, in the display unit: whole orders alone
/// come round again.
std::vector<double> moved_over_turn(const SensorTrack& sensor, double speed_rad_s) {
  std::vector<double> moved(orbit_points + 1, 0.0);
  for (const OrderVector& vector : sensor.orders) {
    if (vector.order != std::round(vector.order)) continue;
    const OrderVector seen = view_as(vector, sensor.motion, Motion::displacement, speed_rad_s);
    for (int i = 0; i <= orbit_points; ++i) {
      const double angle_rad = radians(360.0 * i / orbit_points);
      moved[static_cast<std::size_t>(i)] += seen.amplitude() * std::cos(seen.order * angle_rad - std::arg(seen.value)) /
                                            si_per_display_unit(Motion::displacement);
    }
  }
  return moved;
}

std::string orders_of(const SensorTrack& sensor, const Words& words) {
  std::string said = words.order;
  for (const OrderVector& vector : sensor.orders)
    if (vector.order == std::round(vector.order))
      said += fmt::format("{} {:.0f}", &vector == &sensor.orders.front() ? "" : " +", vector.order);
  return said;
}

void draw_orbit_frame(Sketch& sketch, double full, const SensorTrack& up, const SensorTrack& right,
                      const Words& words) {
  for (const double ring : round_steps(0.0, full, 3)) {
    if (ring <= 0.0) continue;
    const double radius = orbit_full_mm * ring / full;
    sketch.disc(Role::grid, orbit_middle, radius);
    const Point at = on_clock(orbit_middle, radius, 225.0);
    sketch.text(Role::quiet,
                {{at.x - 1.0, at.y + 4.0}, with_decimal_sign(fmt::format("{:.3g}", ring), words), 3.4, Anchor::right});
  }
  sketch.line(Role::grid, on_clock(orbit_middle, orbit_full_mm + 2.0, 0.0),
              on_clock(orbit_middle, orbit_full_mm + 2.0, 180.0));
  sketch.line(Role::grid, on_clock(orbit_middle, orbit_full_mm + 2.0, 90.0),
              on_clock(orbit_middle, orbit_full_mm + 2.0, 270.0));
  sketch.name(Role::text, {{orbit_middle.x, orbit_middle.y - orbit_full_mm - 4.0},
                           put_in(words.sensor, up.name),
                           4.4,
                           Anchor::middle,
                           false,
                           80.0});
  std::vector<std::string> lines = wrapped(put_in(words.sensor, right.name), 3.8, orbit_beside_mm);
  for (std::size_t i = 0; i < std::min<std::size_t>(lines.size(), 3); ++i) {
    const double y = orbit_middle.y + 6.0 + 6.2 * static_cast<double>(i);
    sketch.name(Role::text, {{orbit_size_mm - 3.0, y}, lines[i], 3.8, Anchor::right, false, orbit_beside_mm});
  }
}

}  // namespace

Picture orbit_picture(const Track& track, const SensorTrack& up, const SensorTrack& right, const Words& words) {
  const PictureWords& texts = words.picture();
  Sketch sketch(put_in(texts.orbit, up.name + " " + right.name), orbit_size_mm, orbit_size_mm);
  sketch.name(Role::text, {{4.0, 11.0}, sketch.picture().title, 7.0, Anchor::left, true, 142.0});
  sketch.name(Role::quiet,
              {{4.0, 18.5}, put_in(texts.orbit_note, orders_of(up, words)), 4.2, Anchor::left, false, 142.0});
  const std::vector<double> ys = moved_over_turn(up, track.speed_rad_s);
  const std::vector<double> xs = moved_over_turn(right, track.speed_rad_s);
  double full = 0.0;
  for (std::size_t i = 0; i < xs.size(); ++i) full = std::max(full, std::hypot(xs[i], ys[i]));
  if (!(full > 0.0)) full = 1.0;
  draw_orbit_frame(sketch, full, up, right, words);
  std::vector<Point> path;
  for (std::size_t i = 0; i < xs.size(); ++i)
    path.push_back({orbit_middle.x + orbit_full_mm * xs[i] / full, orbit_middle.y - orbit_full_mm * ys[i] / full});
  sketch.disc(Role::series_1, path.front(), 2.0, Fill::solid, "mark at the tach");
  constexpr std::size_t on_its_way = 40;
  sketch.arrow_head(Role::series_1, path[on_its_way], clock_deg_of(path[on_its_way - 5], path[on_its_way]), 5.0, "way");
  sketch.path(Role::series_1, std::move(path), "orbit");
  sketch.name(Role::quiet, {{4.0, orbit_size_mm - 4.0},
                            fmt::format("{}, {}; {}", printed_unit(display_unit(Motion::displacement)), words.peak,
                                        texts.mark_passes),
                            4.2,
                            Anchor::left,
                            false,
                            142.0});
  return std::move(sketch.picture());
}

}  // namespace counterspot
