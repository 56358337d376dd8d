#include <fmt/format.h>

#include <algorithm>

#include "counterspot/drawing/drawing_rig.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double rig_width_mm = 240.0;
constexpr double rig_height_mm = 190.0;
constexpr double rig_left_mm = 30.0;
constexpr double rig_right_mm = 204.0;
constexpr double step_deg = 30.0;

/// What lies beyond what is allowed is crossed out, so that it is not told by its place alone.
void draw_reading(Sketch& sketch, std::size_t plane, Point at, bool beyond, const std::string& meaning) {
  if (beyond) draw_cross(sketch, at, 3.2);
  draw_marker(sketch, series_role(plane), plane, at, 1.7, beyond ? Fill::paper : Fill::solid, meaning);
}

/// One curve a plane over the positions from `first_deg`, and the levels.
void draw_positions(Sketch& sketch, const Chart& chart, const std::array<std::vector<double>, 2>& readings,
                    double first_deg, const std::vector<Level>& levels, double least, double most,
                    const std::string& what) {
  chart.draw_levels(sketch, levels);
  for (std::size_t p : {0U, 1U}) {
    std::vector<double> at;
    for (std::size_t i = 0; i < readings[p].size(); ++i) at.push_back(first_deg + step_deg * static_cast<double>(i));
    chart.draw_curve(sketch, series_role(p), at, readings[p], what);
    for (std::size_t i = 0; i < at.size(); ++i) {
      const bool beyond = readings[p][i] < least || readings[p][i] > most;
      draw_reading(sketch, p, chart.at(at[i], readings[p][i]), beyond, fmt::format("{} {} {:.0f}", what, p, at[i]));
    }
  }
}

std::pair<double, double> range_of_both(const std::array<std::vector<double>, 2>& readings, double least, double most) {
  for (const auto& of_plane : readings) {
    for (double reading : of_plane) {
      least = std::min(least, reading);
      most = std::max(most, reading);
    }
  }
  return {least, most};
}

}  // namespace

Picture qualification_picture(const Qualification& result, const RigClaims& claims,
                              const std::vector<std::string>& planes, const Words& words) {
  Sketch sketch(words.reduction_ratio, rig_width_mm, rig_height_mm);
  for (std::size_t p : {0U, 1U})
    draw_key(sketch, p, put_in(words.plane, planes[p]), {96.0 + 58.0 * static_cast<double>(p), 10.0}, 56.0);
  const Axis positions{0.0, 360.0, rig_left_mm, rig_right_mm, false, 60.0};

  const auto [low, high] = range_of_both(result.small_over_mean, 0.8, 1.2);
  const Chart readings{positions, rounded_axis(low, high, 84.0, 26.0)};
  readings.draw_frame(sketch, "", words.small_mass_readings, words);
  draw_positions(sketch, readings, result.small_over_mean, 0.0,
                 {{Role::limit, 1.0 + small_mass_band, words.allowed},
                  {Role::earlier, 1.0, words.centre},
                  {Role::limit, 1.0 - small_mass_band, words.allowed}},
                 1.0 - small_mass_band, 1.0 + small_mass_band, "reading");

  std::array<std::vector<double>, 2> percent = result.reductions;
  for (auto& of_plane : percent)
    for (double& reduction : of_plane) reduction *= 100.0;
  const double claimed = 100.0 * claims.reduction;
  const auto [least, most] = range_of_both(percent, 2.0 * claimed - 100.0, 100.0);
  const Chart reductions{positions, rounded_axis(least, most, 166.0, 112.0)};
  reductions.draw_frame(sketch, words.test_mass_at, in_unit(words.reduction_ratio, "%"), words);
  draw_positions(sketch, reductions, percent, step_deg, {{Role::limit, claimed, words.claimed}}, claimed, 1e300,
                 "reduction");
  return std::move(sketch.picture());
}

}  // namespace counterspot
