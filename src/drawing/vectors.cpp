#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "algebra/pseudo_inverse.hpp"
#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "drawing/chart.hpp"
#include "drawing/ellipse.hpp"

namespace counterspot {

namespace {

constexpr Point field_middle{76.0, 82.0};
constexpr double field_full_mm = 54.0;  // radius of the largest vector

constexpr double too_small_mm = 9.0;  // a last spin shorter than this, with its limit, is shown in the lens
constexpr std::size_t most_numbered = 9;
constexpr double least_magnification = 1.5;  // a lens that shows less is not drawn

/// What differs between the whole picture and the small one.
struct FieldLayout {
  double width_mm = 224.0;
  double height_mm = 150.0;
  Point lens{182.0, 100.0};
  double lens_mm = 34.0;
  double letters = 1.0;  ///< times as large
};
constexpr FieldLayout whole_field{};
constexpr FieldLayout small_field{164.0, 160.0, {142.0, 137.0}, 20.0, 1.6};

/// A field of vectors: where its centre is and how many mm one kg·m takes.
struct Field {
  Point centre;
  double mm_per_kg_m = 1.0;
  Rotation rotation = Rotation::clockwise;

  Point at(const Phasor& unbalance) const {
    return on_clock(centre, std::abs(unbalance) * mm_per_kg_m, clock_deg(std::arg(unbalance), rotation));
  }
};

void draw_ellipse(Sketch& sketch, const Field& field, const SpinVector& spin) {
  std::vector<Point> points;
  for (const Phasor& edge : ellipse_of(spin.unbalance_kg_m, spin.covariance)) points.push_back(field.at(edge));
  if (points.empty()) return;
  sketch.polygon(Role::uncertainty, std::move(points), Fill::hatch, "uncertainty " + spin.label);
}

void draw_limit(Sketch& sketch, const Field& field, const VectorDiagram& diagram, double most_mm) {
  if (!diagram.limit_kg_m) return;
  const double radius = *diagram.limit_kg_m * field.mm_per_kg_m;
  if (radius > 0.8 && radius <= most_mm) sketch.disc(Role::limit, field.centre, radius, Fill::none, "limit");
}

/// The last spin as a dot on a thick arrow.
void draw_last(Sketch& sketch, const Field& field, const SpinVector& spin) {
  const Point tip = field.at(spin.unbalance_kg_m);
  draw_ellipse(sketch, field, spin);
  sketch.line(Role::latest, field.centre, tip, "last " + spin.label);
  sketch.disc(Role::latest, tip, 1.6, Fill::solid, "end of last");
}

/// The numbers of spins stand in frames: those of pieces, in balloons.
double frame_of_number_mm(const std::string& number, double letters_mm) {
  return 0.8 * letters_mm * static_cast<double>(number.size()) + 0.7 * letters_mm;
}

void draw_spin_number(Sketch& sketch, Point at, const std::string& number, Anchor anchor, double letters_mm) {
  const double width = frame_of_number_mm(number, letters_mm);
  const double left = anchor == Anchor::left ? at.x : anchor == Anchor::middle ? at.x - 0.5 * width : at.x - width;
  const double top = at.y - 1.3 * letters_mm;
  const double bottom = at.y + 0.3 * letters_mm;
  sketch.polygon(Role::quiet, {{left, top}, {left + width, top}, {left + width, bottom}, {left, bottom}}, Fill::paper);
  sketch.text(Role::text, {{left + 0.5 * width, at.y}, number, letters_mm, Anchor::middle, false, 0.9 * width}, "spin");
}

/// Labels as they find room beside one another.
class Labels {
 public:
  explicit Labels(Sketch& sketch) : sketch_(sketch) {}

  void draw(Role role, const Lettering& words) {
    taken_.push_back(room_of(words));
    sketch_.text(role, words);
  }
  /// Nothing is drawn where no place is free.
  void draw_number_at(const std::string& number, double letters_mm,
                      const std::vector<std::pair<Point, Anchor>>& places) {
    const double width = frame_of_number_mm(number, letters_mm);
    for (const auto& [at, anchor] : places) {
      const double left = anchor == Anchor::left ? at.x : anchor == Anchor::middle ? at.x - 0.5 * width : at.x - width;
      const Room room{left, left + width, at.y - 1.4 * letters_mm, at.y + 0.4 * letters_mm};
      if (!is_free(room)) continue;
      taken_.push_back(room);
      draw_spin_number(sketch_, at, number, anchor, letters_mm);
      return;
    }
  }
  /// At the first place that is free. @return false, and nothing is drawn, if none is.
  bool draw_at(Role role, Lettering words, const std::vector<std::pair<Point, Anchor>>& places) {
    for (const auto& [at, anchor] : places) {
      words.at = at;
      words.anchor = anchor;
      if (!is_free(room_of(words))) continue;
      draw(role, words);
      return true;
    }
    return false;
  }

  void keep_off(const std::pair<Point, Point>& corners) {
    taken_.push_back({corners.first.x, corners.second.x, corners.first.y, corners.second.y});
  }
  void keep_off(Point centre, double radius_mm) {
    taken_.push_back({centre.x - radius_mm, centre.x + radius_mm, centre.y - radius_mm, centre.y + radius_mm});
  }

 private:
  struct Room {
    double left = 0.0, right = 0.0, top = 0.0, bottom = 0.0;
  };
  /// On the safe side: a letter is no wider than 0.8 of its height.
  static Room room_of(const Lettering& words) {
    const double width = 0.8 * words.height_mm * static_cast<double>(words.words.size());
    const double share = words.anchor == Anchor::left ? 0.0 : words.anchor == Anchor::middle ? 0.5 : 1.0;
    const double left = words.at.x - share * width;
    return {left, left + width, words.at.y - 1.1 * words.height_mm, words.at.y + 0.3 * words.height_mm};
  }
  bool is_free(const Room& room) const {
    const Picture& paper = sketch_.picture();
    if (room.left < 0.0 || room.top < 0.0 || room.right > paper.width_mm || room.bottom > paper.height_mm) return false;
    return std::none_of(taken_.begin(), taken_.end(), [&](const Room& other) {
      return room.left < other.right && other.left < room.right && room.top < other.bottom && other.top < room.bottom;
    });
  }

  Sketch& sketch_;
  std::vector<Room> taken_;
};

/// Beside a point, first away from the centre, then further and further round it.
std::vector<std::pair<Point, Anchor>> places_beside(Point tip, Point centre, double letters_mm) {
  std::vector<std::pair<Point, Anchor>> places;
  const double outwards = clock_deg_of(centre, tip);
  for (const double further : {5.0, 5.0 + letters_mm, 5.0 + 2.5 * letters_mm, 5.0 + 4.0 * letters_mm}) {
    for (const double round : {0.0, 45.0, -45.0, 90.0, -90.0, 135.0, -135.0, 180.0}) {
      const double direction = std::fmod(outwards + round + 360.0, 360.0);
      const Point at = on_clock(tip, further, direction);
      const Anchor anchor = direction > 20.0 && direction < 160.0    ? Anchor::left
                            : direction > 200.0 && direction < 340.0 ? Anchor::right
                                                                     : Anchor::middle;
      places.push_back({{at.x, at.y + 0.3 * letters_mm}, anchor});
    }
  }
  return places;
}

std::vector<double> rings_of(double full_kg_m, UnitSystem units) {
  std::vector<double> rings = round_steps(0.0, unbalance_in(units, full_kg_m), 3);
  std::erase_if(rings, [](double ring) { return ring <= 0.0; });
  return rings;
}

/// What the rings are worth, where there is room for it.
void draw_ring_numbers(Labels& labels, const FieldLayout& layout, const Field& field, double full_kg_m,
                       UnitSystem units, const Words& words) {
  for (const double ring : rings_of(full_kg_m, units)) {
    std::vector<std::pair<Point, Anchor>> places;
    for (const double direction : {315.0, 45.0, 225.0, 135.0, 330.0, 30.0, 300.0, 60.0, 240.0, 120.0, 210.0, 150.0}) {
      const Point at = on_clock(field.centre, ring * field.mm_per_kg_m / unbalance_in(units, 1.0), direction);
      places.push_back({{at.x - 1.0, at.y - 1.0}, Anchor::right});
    }
    labels.draw_at(Role::quiet, {{}, with_decimal_sign(fmt::format("{:.4g}", ring), words), 3.6 * layout.letters},
                   places);
  }
}

void draw_face(Sketch& sketch, Labels& labels, const FieldLayout& layout, const Field& field, double full_kg_m,
               UnitSystem units) {
  for (const double ring : rings_of(full_kg_m, units))
    sketch.disc(Role::grid, field.centre, ring * field.mm_per_kg_m / unbalance_in(units, 1.0));
  for (int hour = 3; hour <= 12; hour += 3) {
    const double direction = 30.0 * hour;
    sketch.line(Role::grid, field.centre, on_clock(field.centre, field_full_mm, direction));
    const Point at =
        on_clock(field.centre, field_full_mm + 8.0 * layout.letters + (hour % 6 == 0 ? 0.0 : 6.0), direction);
    labels.draw(Role::text, {{at.x, at.y + 2.4}, std::to_string(hour), 5.0 * layout.letters, Anchor::middle});
  }
}

void draw_earlier(Sketch& sketch, const Field& field, const VectorDiagram& diagram) {
  for (std::size_t i = 0; i + 1 < diagram.spins.size(); ++i) {
    const SpinVector& spin = diagram.spins[i];
    const Point tip = field.at(spin.unbalance_kg_m);
    sketch.line(Role::earlier, field.centre, tip, "earlier " + spin.label);
    draw_marker(sketch, Role::earlier, 0, tip, 1.6, Fill::paper);
  }
}

/// The spins' numbers at the ends of their vectors; ends that lie together share one label.
void draw_numbers(Labels& labels, const FieldLayout& layout, const Field& field, const VectorDiagram& diagram) {
  constexpr double together_mm = 6.0;
  std::vector<std::pair<Point, std::string>> ends;
  for (std::size_t i = 0; i < diagram.spins.size(); ++i) {
    const bool numbered = diagram.spins.size() <= most_numbered || i == 0 || i + 1 == diagram.spins.size();
    const Point tip = field.at(diagram.spins[i].unbalance_kg_m);
    if (!numbered || std::hypot(tip.x - field.centre.x, tip.y - field.centre.y) < together_mm) continue;
    const auto near = [&](const auto& other) {
      return std::hypot(other.first.x - tip.x, other.first.y - tip.y) < together_mm;
    };
    const auto end = std::find_if(ends.begin(), ends.end(), near);
    if (end == ends.end()) {
      ends.emplace_back(tip, std::to_string(i + 1));
    } else {
      end->second += fmt::format(",{}", i + 1);
    }
  }
  const double letters_mm = 4.6 * layout.letters;
  for (const auto& [tip, numbers] : ends) labels.keep_off(tip, 2.5);
  for (const auto& [tip, numbers] : ends)
    labels.draw_number_at(numbers, letters_mm, places_beside(tip, field.centre, letters_mm));
}

double largest_kg_m(const VectorDiagram& diagram) {
  if (diagram.full_kg_m) return *diagram.full_kg_m;
  double largest = diagram.spins.empty() ? 0.0 : diagram.limit_kg_m.value_or(0.0);
  for (const SpinVector& spin : diagram.spins) largest = std::max(largest, std::abs(spin.unbalance_kg_m));
  return largest > 0.0 ? largest : diagram.limit_kg_m.value_or(1e-6);
}

/// What the lens is to show.
double seen_in_lens_kg_m(const VectorDiagram& diagram) {
  if (diagram.lens_kg_m) return *diagram.lens_kg_m;
  const SpinVector& last = diagram.spins.back();
  return std::max(std::abs(last.unbalance_kg_m) + coverage_of_vector * std::sqrt(last.covariance.trace()),
                  diagram.limit_kg_m.value_or(0.0));
}

void draw_lens(Sketch& sketch, Labels& labels, const FieldLayout& layout, const Field& field,
               const VectorDiagram& diagram, const Words& words) {
  const Point lens_middle = layout.lens;
  const double lens_mm = layout.lens_mm;
  const SpinVector& last = diagram.spins.back();
  const double shown = seen_in_lens_kg_m(diagram);
  if (!(shown > 0.0)) return;
  const Field lens{lens_middle, 0.9 * lens_mm / shown, diagram.rotation};
  if (lens.mm_per_kg_m < least_magnification * field.mm_per_kg_m) return;
  sketch.line(Role::quiet, on_clock(field.centre, 2.0, clock_deg_of(field.centre, lens_middle)),
              on_clock(lens_middle, lens_mm, clock_deg_of(lens_middle, field.centre)));
  sketch.disc(Role::outline, lens_middle, lens_mm, Fill::paper, "lens");
  sketch.line(Role::grid, on_clock(lens_middle, lens_mm, 0.0), on_clock(lens_middle, lens_mm, 180.0));
  sketch.line(Role::grid, on_clock(lens_middle, lens_mm, 90.0), on_clock(lens_middle, lens_mm, 270.0));
  draw_limit(sketch, lens, diagram, lens_mm);
  draw_last(sketch, lens, last);
  labels.keep_off(lens_middle, lens_mm);
  const std::string larger = fmt::format("{:.1f}", lens.mm_per_kg_m / field.mm_per_kg_m);
  labels.draw(Role::quiet, {{lens_middle.x, lens_middle.y - lens_mm - 4.0},
                            put_in(words.larger, with_decimal_sign(larger, words)),
                            4.8,
                            Anchor::middle,
                            false,
                            64.0});
}

constexpr double vector_legend_left_mm = 150.0;
constexpr double vector_legend_mm = 4.2;
constexpr double vector_legend_top_mm = 20.0;
constexpr double vector_legend_to_mm = 60.0;  // the lens has its words under it

/// To the right of the face, where the lens is not.
void draw_legend(Sketch& sketch, const FieldLayout& layout, const VectorDiagram& diagram, const Words& words) {
  double y = vector_legend_top_mm;
  const double width_mm = layout.width_mm - vector_legend_left_mm - 17.0 - 3.0;
  const auto row = [&](Role role, const std::vector<std::string>& lines, const std::string& number = {}) {
    sketch.line(role, {vector_legend_left_mm, y - 1.8}, {vector_legend_left_mm + 13.0, y - 1.8});
    double x = vector_legend_left_mm + 17.0;
    if (!number.empty()) {
      draw_spin_number(sketch, {x, y}, number, Anchor::left, vector_legend_mm);
      x += frame_of_number_mm(number, vector_legend_mm) + 2.0;
    }
    for (const std::string& line : lines) {
      sketch.name(Role::text, {{x, y}, line, vector_legend_mm, Anchor::left, false, layout.width_mm - x - 3.0});
      y += 5.6;
    }
    y += 1.6;
  };
  const std::size_t count = diagram.spins.size();
  if (diagram.limit_kg_m)
    row(Role::limit,
        {put_in(words.limit_of, with_decimal_sign(unbalance_text(*diagram.limit_kg_m, diagram.units), words))});
  if (count > 1) row(Role::earlier, {diagram.spins.front().label}, "1");
  if (count == 0) return;
  row(Role::latest, {diagram.spins.back().label}, std::to_string(count));
  if (!diagram.spins.back().covariance.isZero(0.0) && y < vector_legend_to_mm - 5.6)
    row(Role::uncertainty, wrapped(words.where_95, vector_legend_mm, width_mm));
}

}  // namespace

Picture vector_picture(const VectorDiagram& diagram, const Words& words, Detail detail) {
  const FieldLayout& layout = detail == Detail::whole ? whole_field : small_field;
  Sketch sketch(put_in(words.plane, diagram.plane), layout.width_mm, layout.height_mm);
  if (detail == Detail::whole) {
    sketch.name(Role::text, {{4.0, 11.0}, put_in(words.plane, diagram.plane), 7.0, Anchor::left, true, 90.0});
    sketch.name(Role::text,
                {{layout.width_mm - 4.0, 11.0}, put_in(words.seen_from, diagram.end), 4.8, Anchor::right, false, 70.0});
    draw_legend(sketch, layout, diagram, words);
  }
  const double full_kg_m = largest_kg_m(diagram);
  const Field field{field_middle, field_full_mm / full_kg_m, diagram.rotation};
  Labels labels(sketch);
  if (detail == Detail::whole) labels.keep_off({{vector_legend_left_mm, 0.0}, {layout.width_mm, vector_legend_to_mm}});
  labels.draw(
      Role::quiet,
      {{4.0, detail == Detail::whole ? 18.5 : 9.0}, std::string(unbalance_unit(diagram.units)), 4.2 * layout.letters});
  draw_face(sketch, labels, layout, field, full_kg_m, diagram.units);
  sketch.polygon(Role::mark,
                 {{field_middle.x - 2.0, field_middle.y - field_full_mm - 2.0},
                  {field_middle.x + 2.0, field_middle.y - field_full_mm - 2.0},
                  {field_middle.x, field_middle.y - field_full_mm + 2.0}},
                 Fill::solid, "mark");
  draw_limit(sketch, field, diagram, field_full_mm + 0.1);
  draw_earlier(sketch, field, diagram);
  if (!diagram.spins.empty()) {
    const SpinVector& last = diagram.spins.back();
    draw_last(sketch, field, last);
    const double seen_mm =
        std::max(std::abs(last.unbalance_kg_m), diagram.limit_kg_m.value_or(0.0)) * field.mm_per_kg_m;
    if (diagram.spins.size() > 1 && seen_mm < 3.0 * too_small_mm)
      draw_lens(sketch, labels, layout, field, diagram, words);
  }
  draw_numbers(labels, layout, field, diagram);
  draw_ring_numbers(labels, layout, field, full_kg_m, diagram.units, words);
  return std::move(sketch.picture());
}

void bring_to_one_scale(std::vector<VectorDiagram>& diagrams) {
  double full = 0.0;
  double seen = 0.0;
  for (const VectorDiagram& diagram : diagrams) {
    full = std::max(full, largest_kg_m(diagram));
    if (!diagram.spins.empty()) seen = std::max(seen, seen_in_lens_kg_m(diagram));
  }
  for (VectorDiagram& diagram : diagrams) {
    diagram.full_kg_m = full;
    if (seen > 0.0) diagram.lens_kg_m = seen;
  }
}

std::vector<std::vector<SpinVector>> unbalance_of_spins(const std::vector<SpinReading>& spins,
                                                        const std::vector<CoefficientEstimate>& coefficients) {
  if (spins.empty() || spins.front().vectors.empty()) return {};
  const auto sensors = static_cast<Eigen::Index>(spins.front().vectors.size());
  const auto planes = static_cast<Eigen::Index>(coefficients.size()) / sensors;
  Eigen::MatrixXcd alpha(sensors, planes);
  for (Eigen::Index s = 0; s < sensors; ++s)
    for (Eigen::Index p = 0; p < planes; ++p)
      alpha(s, p) = coefficients[static_cast<std::size_t>(s * planes + p)].value;
  const Eigen::MatrixXcd inverse = pseudo_inverse(alpha);
  std::vector<std::vector<SpinVector>> found(static_cast<std::size_t>(planes));
  for (const SpinReading& spin : spins) {
    for (Eigen::Index p = 0; p < planes; ++p) {
      SpinVector vector{spin.label, {}, Eigen::Matrix2d::Zero()};
      for (Eigen::Index s = 0; s < sensors; ++s) {
        const Phasor g = inverse(p, s);
        const auto i = static_cast<std::size_t>(s);
        vector.unbalance_kg_m += g * spin.vectors[i];
        Eigen::Matrix2d turn;
        turn << g.real(), -g.imag(), g.imag(), g.real();
        vector.covariance += turn * spin.covariances[i] * turn.transpose();
      }
      found[static_cast<std::size_t>(p)].push_back(vector);
    }
  }
  return found;
}

}  // namespace counterspot
