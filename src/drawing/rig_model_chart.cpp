#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_rig.hpp"
#include "drawing/chart.hpp"

namespace counterspot {

namespace {

constexpr double model_width_mm = 240.0;
constexpr double model_height_mm = 140.0;
constexpr double model_left_mm = 34.0;
constexpr double model_right_mm = 196.0;

/// An axis of jobs: there are no parts of one, so the numbers on it are whole.
Axis whole_numbers(double count) {
  const double step = std::ceil(count / 8.0);
  return {0.0, std::max(1.0, step * std::ceil((count + 0.5) / step)), model_left_mm, model_right_mm, false, step};
}

double percent_of(const Estimate& change) {
  return 100.0 * (std::exp(change.value) - 1.0);
}

}  // namespace

Picture rig_model_picture(const RigCondition& condition, const std::array<std::string, 2>& pedestals,
                          const Words& words) {
  Sketch sketch(words.pedestals_stiffness, model_width_mm, model_height_mm);
  sketch.name(Role::text, {{6.0, 12.0}, words.pedestals_stiffness, 6.5, Anchor::left, true, 170.0});
  for (std::size_t p : {0U, 1U})
    draw_key(sketch, p, put_in(words.pedestal, pedestals[p]), {model_left_mm + 82.0 * static_cast<double>(p), 22.0},
             80.0);
  double limit = 0.0;
  for (const auto& drift : condition.drift)
    if (drift) limit = std::max(limit, 100.0 * drift->control_limit);
  double most = std::max(10.0, 1.1 * limit);
  for (const PedestalReading& reading : condition.readings)
    for (const Estimate& change : reading.change) most = std::max(most, std::abs(percent_of(change)));
  const auto count = static_cast<double>(condition.readings.size());
  const Chart chart{whole_numbers(count), rounded_axis(-most, most, model_height_mm - 18.0, 36.0)};
  chart.draw_frame(sketch, words.job_after_job, "%", words);
  std::vector<Level> levels = {{Role::earlier, 0.0, words.centre}};
  if (limit > 0.0) {
    levels.insert(levels.end(),
                  {{Role::limit, limit, words.control_limits}, {Role::limit, -limit, words.control_limits}});
  }
  chart.draw_levels(sketch, std::move(levels));
  for (std::size_t p : {0U, 1U}) {
    std::vector<double> xs;
    std::vector<double> ys;
    for (const PedestalReading& reading : condition.readings) {
      xs.push_back(static_cast<double>(xs.size() + 1));
      ys.push_back(percent_of(reading.change[p]));
    }
    chart.draw_curve(sketch, series_role(p), xs, ys, "pedestal " + pedestals[p]);
    for (std::size_t i = 0; i < xs.size(); ++i)
      draw_marker(sketch, series_role(p), p, chart.at(xs[i], ys[i]), 1.7,
                  condition.readings[i].set_aside ? Fill::paper : Fill::solid,
                  fmt::format("reading {} {}", pedestals[p], i + 1));
  }
  return std::move(sketch.picture());
}

}  // namespace counterspot
