#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/drawing_live.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "drawing/chart.hpp"
#include "drawing/ellipse.hpp"

namespace counterspot {

namespace {

constexpr double rim_mm = 45.0;
constexpr double live_lens_mm = 12.0;
constexpr double least_share = 0.2;  // of the rim: a vector shorter than this asks for a smaller scale
constexpr double lens_share = 0.1;   // of the rim: what the lens's ring is worth
// A short vector scatters by as much as it is long: the lens comes for less than its ring, and goes at twice that.
constexpr double lens_comes = 0.08;
constexpr double lens_leaves = 0.2;
constexpr double limit_share = 0.9;  // of the rim: where the limit lies at most

double unit_of(const LiveFace& face) {
  return face.motion ? si_per_display_unit(*face.motion) : 1.0 / unbalance_in(face.units, 1.0);
}

std::string unit_text(const LiveFace& face) {
  return printed_unit(face.motion ? display_unit(*face.motion) : unbalance_unit(face.units));
}

Point point_on(const LiveFace& face, const Phasor& value) {
  return on_clock(live_middle, std::abs(value) / face.rim * rim_mm, clock_deg(std::arg(value), face.rotation));
}

Point point_in_lens(const LiveFace& face, const Phasor& value) {
  const double share =
      std::min(1.0, std::abs(value) / (lens_share * face.rim));  // what lies beyond is cut off at the ring
  return on_clock(lens_middle, share * live_lens_mm, clock_deg(std::arg(value), face.rotation));
}

/// The smallest round number that is no smaller.
double round_up(double value) {
  const double decade = std::pow(10.0, std::floor(std::log10(value)));
  for (const double step : {1.0, 1.5, 2.0, 3.0, 5.0, 7.0})
    if (value <= step * decade * (1.0 + 1e-9)) return step * decade;
  return 10.0 * decade;
}

void draw_hours(Sketch& sketch, const LiveFace& face) {
  for (int hour = 1; hour <= 12; ++hour) {
    const double direction = 30.0 * hour;
    const bool quarter = hour % 3 == 0;
    sketch.line(quarter ? Role::outline : Role::quiet, on_clock(live_middle, rim_mm - (quarter ? 3.0 : 1.5), direction),
                on_clock(live_middle, rim_mm, direction));
    if (!quarter) continue;
    const Point at = on_clock(live_middle, rim_mm + 7.0, direction);
    sketch.text(Role::text, {{at.x, at.y + 3.0}, std::to_string(hour), 6.5, Anchor::middle});
  }
  sketch.polygon(Role::mark,
                 {on_clock(live_middle, rim_mm + 2.5, 357.0), on_clock(live_middle, rim_mm + 2.5, 3.0),
                  on_clock(live_middle, rim_mm - 2.5, 0.0)},
                 Fill::solid, "mark");
  const bool clockwise = face.rotation == Rotation::clockwise;
  const double radius_mm = rim_mm + 5.0;
  sketch.arc(Role::rotation, {live_middle, radius_mm, 25.0, 60.0},
             std::string("turns ") + rotation_name(face.rotation));
  sketch.arrow_head(Role::rotation, on_clock(live_middle, radius_mm, clockwise ? 63.0 : 22.0),
                    clockwise ? 152.0 : 293.0, 5.0);
}

void draw_rings(Sketch& sketch, const LiveFace& face, const Words& words) {
  const double unit = unit_of(face);
  sketch.disc(Role::outline, live_middle, rim_mm, Fill::none, "rim");
  for (const double ring : round_steps(0.0, face.rim / unit, 3)) {
    const double radius_mm = ring * unit / face.rim * rim_mm;
    if (radius_mm < 1.0) continue;
    if (radius_mm < rim_mm - 1.0) sketch.disc(Role::grid, live_middle, radius_mm);
    const Point at = on_clock(live_middle, radius_mm, 225.0);
    sketch.text(Role::quiet,
                {{at.x + 1.5, at.y}, with_decimal_sign(fmt::format("{:.4g}", ring), words), 4.5, Anchor::left});
  }
  for (const double direction : {0.0, 90.0, 180.0, 270.0})
    sketch.line(Role::grid, live_middle, on_clock(live_middle, rim_mm - 3.0, direction));
}

void draw_live_lens(Sketch& sketch, const Words& words) {
  const double towards = clock_deg_of(live_middle, lens_middle);
  sketch.line(Role::grid, on_clock(live_middle, rim_mm, towards), on_clock(lens_middle, -live_lens_mm, towards));
  sketch.disc(Role::outline, lens_middle, live_lens_mm, Fill::paper, "lens");
  for (const double direction : {0.0, 90.0})
    sketch.line(Role::grid, on_clock(lens_middle, -live_lens_mm, direction),
                on_clock(lens_middle, live_lens_mm, direction));
  const std::string larger = fmt::format("{:.2g}", live_lens_mm / (lens_share * rim_mm));
  sketch.text(Role::quiet, {{lens_middle.x, lens_middle.y + live_lens_mm + 6.0},
                            with_decimal_sign(larger, words) + " ×",
                            4.2,
                            Anchor::middle});
}

}  // namespace

std::vector<LiveFace> live_faces(const LiveJob& job, UnitSystem units) {
  std::vector<LiveFace> faces;
  const auto face = [&](const std::string& name) -> LiveFace& {
    LiveFace& made = faces.emplace_back();
    made.shaft = job.shaft.id;
    made.name = name;
    made.end = job.rig.viewing_end;
    made.rotation = job.rig.rotation;
    made.units = units;
    return made;
  };
  if (job.solution) {
    for (const VectorDiagram& diagram : diagrams_of(job.rig, job.shaft, job.solution->limits, job.solution->readings,
                                                    job.solution->influence.coefficients)) {
      LiveFace& made = face(diagram.plane);
      made.limit_kg_m = diagram.limit_kg_m;
      for (const SpinVector& spin : diagram.spins) made.spins.push_back({spin.unbalance_kg_m, spin.covariance});
    }
  } else {
    for (std::size_t s = 0; s < job.rig.sensors.size(); ++s) {
      LiveFace& made = face(job.rig.sensors[s].name);
      made.motion = job.rig.sensors[s].sensitivity.motion;
      for (const SpinReading& spin : job.spins) made.spins.push_back({spin.vectors[s], spin.covariances[s]});
    }
  }
  set_rim(faces, {});
  return faces;
}

void set_rim(std::vector<LiveFace>& faces, const std::vector<LiveVector>& now) {
  if (faces.empty()) return;
  const double unit = unit_of(faces.front());
  double size = 0.0;
  double limit = 0.0;
  for (std::size_t i = 0; i < faces.size(); ++i) {
    const std::vector<LiveVector>& seen = now.empty() ? faces[i].spins : now;
    if (!seen.empty()) size = std::max(size, std::abs((now.empty() ? seen.back() : seen[i]).value) / unit);
    limit = std::max(limit, faces[i].limit_kg_m.value_or(0.0) / (limit_share * unit));
  }
  const double before = faces.front().rim / unit;
  const bool inside = before > 0.0 && size <= before && limit <= before;
  if (!inside || (size < least_share * before && limit < 0.5 * before)) {
    const double shown = std::max(1.1 * size, limit);
    const double rim = std::isfinite(shown) && shown > 0.0 ? round_up(shown) : 1.0;
    for (LiveFace& face : faces) face.rim = rim * unit;
  }
  for (std::size_t i = 0; i < std::min(faces.size(), now.size()); ++i) {
    const double share = std::abs(now[i].value) / faces[i].rim;
    faces[i].lens = share < (faces[i].lens ? lens_leaves : lens_comes);
  }
}

Picture live_face_picture(const LiveFace& face, const Words& words) {
  const std::string name = put_in(face.motion ? words.sensor : words.plane, face.name);
  Sketch sketch(name, live_face_mm, live_face_mm);
  draw_rings(sketch, face, words);
  draw_hours(sketch, face);
  sketch.text(Role::quiet, {{2.0, 8.0}, unit_text(face), 5.0});
  sketch.name(Role::quiet,
              {{2.0, live_face_mm - 2.5}, put_in(words.picture().shaft, face.shaft), 4.2, Anchor::left, false, 50.0},
              "shaft");
  if (face.limit_kg_m) sketch.disc(Role::limit, live_middle, *face.limit_kg_m / face.rim * rim_mm, Fill::none, "limit");
  for (std::size_t i = 0; i < face.spins.size(); ++i) {
    const Point tip = point_on(face, face.spins[i].value);
    if (std::hypot(tip.x - live_middle.x, tip.y - live_middle.y) > rim_mm) continue;
    draw_marker(sketch, Role::earlier, 0, tip, 1.6, Fill::paper, fmt::format("spin {}", i + 1));
  }
  if (face.lens) draw_live_lens(sketch, words);
  return std::move(sketch.picture());
}

LiveMark live_mark(const LiveFace& face, const LiveVector& now) {
  LiveMark mark;
  mark.beyond = std::abs(now.value) > face.rim;
  const Phasor shown = mark.beyond ? now.value * (face.rim / std::abs(now.value)) : now.value;
  mark.tip = point_on(face, shown);
  if (!mark.beyond)
    for (const Phasor& edge : ellipse_of(now.value, now.covariance, 36)) mark.ellipse.push_back(point_on(face, edge));
  if (face.lens) {
    mark.in_lens = point_in_lens(face, now.value);
    for (const Phasor& edge : ellipse_of(now.value, now.covariance, 36))
      mark.lens_ellipse.push_back(point_in_lens(face, edge));
  }
  return mark;
}

}  // namespace counterspot
