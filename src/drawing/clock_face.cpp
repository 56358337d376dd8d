#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/drawing/drawing_tap.hpp"
#include "drawing/sketch.hpp"

namespace counterspot {

namespace {

constexpr double face_width_mm = 224.0;
constexpr double face_height_mm = 150.0;
constexpr Point face_middle{112.0, 78.0};
constexpr double tube_mm = 36.0;  // radius
constexpr double pad_mm = 8.0;    // height of a weight on the tube
constexpr double pad_half_mm = 5.0;
constexpr double tape_mm = 13.0;  // first tape over the tube, the next ones further out
constexpr double tape_step_mm = 4.5;
constexpr double face_note_mm = 4.6;
constexpr double column_mm = 47.0;

/// Words beside the face with a line to what they are about.
struct CallOut {
  double clock_deg = 0.0;
  Role role = Role::text;
  std::string first;               ///< large
  std::string second;              ///< large
  std::vector<std::string> small;  ///< lines
  double from_mm = 0.0;            ///< the leader's end, from the centre

  double height() const {
    const double large = first.empty() ? 0.0 : 2.0 * (numeral_mm + 2.2);
    return large + under_numerals() + static_cast<double>(small.size()) * (face_note_mm + 2.2);
  }
  /// So that no g hangs into the line below.
  double under_numerals() const { return first.empty() || small.empty() ? 0.0 : 2.0; }
  bool right() const { return clock_deg < 180.0; }
};

/// At most two lines; a third would say where the second goes on.
std::vector<std::string> in_column(const std::string& words) {
  if (words.empty()) return {};
  constexpr std::size_t most_lines = 2;
  std::vector<std::string> lines = wrapped(words, face_note_mm, column_mm - 1.0);
  for (std::size_t i = most_lines; i < lines.size(); ++i) lines[most_lines - 1] += " " + lines[i];
  lines.resize(std::min(lines.size(), most_lines));
  return lines;
}

std::vector<std::string> in_column(const std::string& words, const std::string& more) {
  std::vector<std::string> lines = in_column(words);
  const std::vector<std::string> others = in_column(more);
  lines.insert(lines.end(), others.begin(), others.end());
  return lines;
}

/// An upright box on the tube, turned to its place.
std::vector<Point> box_at(double direction_deg, double inner_mm, double outer_mm, double half_mm) {
  const Point in = on_clock(face_middle, inner_mm, direction_deg);
  const Point out = on_clock(face_middle, outer_mm, direction_deg);
  return {on_clock(in, half_mm, direction_deg - 90.0), on_clock(out, half_mm, direction_deg - 90.0),
          on_clock(out, half_mm, direction_deg + 90.0), on_clock(in, half_mm, direction_deg + 90.0)};
}

/// Where between the tube and the height of a weight a piece is drawn: pieces that would lie over one another are
/// stacked, and all seen.
struct Layer {
  int at = 0;
  int of = 1;
};

/// Pieces nearer together than this cover one another.
const double covers_deg = degrees(2.0 * std::asin(pad_half_mm / tube_mm)) + 0.5;

std::vector<Layer> layers_of(const ClockFace& face) {
  std::vector<Layer> layers(face.pieces.size());
  const auto touch = [&](std::size_t i, std::size_t k) {
    const double apart = degrees(face.pieces[i].angle_rad - face.pieces[k].angle_rad);
    return std::abs(std::remainder(apart, 360.0)) < covers_deg;
  };
  for (std::size_t i = 0; i < layers.size(); ++i) {
    const auto taken = [&](int layer) {
      for (std::size_t k = 0; k < i; ++k)
        if (touch(i, k) && layers[k].at == layer) return true;
      return false;
    };
    while (taken(layers[i].at)) ++layers[i].at;
  }
  for (std::size_t i = 0; i < layers.size(); ++i)
    for (std::size_t k = 0; k < layers.size(); ++k)
      if (touch(i, k)) layers[i].of = std::max(layers[i].of, layers[k].at + 1);
  return layers;
}

void draw_tube(Sketch& sketch, const ClockFace& face, const Words& words) {
  for (const double direction : {0.0, 90.0, 180.0, 270.0}) {
    sketch.line(Role::quiet, on_clock(face_middle, tube_mm + 1.0, direction),
                on_clock(face_middle, tube_mm + 6.0, direction));
    sketch.line(Role::quiet, face_middle, on_clock(face_middle, 2.5, direction));
  }
  sketch.disc(Role::outline, face_middle, tube_mm, Fill::none, "tube");
  for (int hour = 1; hour <= 12; ++hour) {
    const double direction = 30.0 * hour;
    const bool quarter = hour % 3 == 0;
    sketch.line(quarter ? Role::outline : Role::quiet,
                on_clock(face_middle, tube_mm - (quarter ? 4.0 : 2.5), direction),
                on_clock(face_middle, tube_mm, direction));
    if (!quarter) continue;
    Point at = on_clock(face_middle, tube_mm - (hour == 12 ? 13.5 : 10.0), direction);
    sketch.text(Role::text, {{at.x, at.y + 3.0}, std::to_string(hour), 6.0, Anchor::middle});
  }
  sketch.polygon(Role::mark, box_at(0.0, tube_mm - 7.0, tube_mm + 1.0, 2.2), Fill::solid, "mark");
  sketch.text(Role::text, {{face_middle.x + 5.0, face_middle.y - tube_mm + 10.0}, words.mark, 3.6});
  const bool clockwise = face.rotation == Rotation::clockwise;
  const double turn_mm = 14.0;
  sketch.arc(Role::rotation, {face_middle, turn_mm, 235.0, 485.0},
             std::string("turns ") + rotation_name(face.rotation));
  const double tip_deg = clockwise ? 485.0 : 235.0;
  sketch.arrow_head(Role::rotation, on_clock(face_middle, turn_mm, tip_deg + (clockwise ? 9.0 : -9.0)),
                    tip_deg + (clockwise ? 100.0 : -100.0), 7.0);
  sketch.text(Role::text, {{face_middle.x, face_middle.y + 9.0}, words.turns, 4.2, Anchor::middle});
}

void draw_forbidden(Sketch& sketch, const ClockFace& face, std::vector<CallOut>& calls) {
  for (const ForbiddenArc& arc : face.forbidden) {
    double from = clock_deg(arc.from_rad, face.rotation);
    double to = clock_deg(arc.to_rad, face.rotation);
    if (face.rotation == Rotation::clockwise) std::swap(from, to);  // shaft angles run the other way round
    if (to < from) to += 360.0;
    std::vector<Point> band;
    const int steps = std::max(2, static_cast<int>((to - from) / 3.0));
    for (int i = 0; i <= steps; ++i)
      band.push_back(on_clock(face_middle, tube_mm + pad_mm, from + (to - from) * i / steps));
    for (int i = steps; i >= 0; --i) band.push_back(on_clock(face_middle, tube_mm, from + (to - from) * i / steps));
    sketch.polygon(Role::forbidden, band, Fill::hatch, fmt::format("forbidden {:.1f} {:.1f}", from, to));
    calls.push_back(
        {std::fmod(0.5 * (from + to), 360.0), Role::forbidden, "", "", in_column(arc.why), tube_mm + pad_mm});
  }
}

/// Nothing for a weight at the mark, where the tape reads nothing.
std::string tape_words(const FacePiece& piece, const ClockFace& face, const Words& words) {
  if (!face.outside_diameter_m)
    return fmt::format("{} deg", number_text(degrees(wrap_positive(piece.angle_rad)), 1, words));
  const ArcLength arc = arc_length(piece.angle_rad, *face.outside_diameter_m);
  const char* way = arc.direction == ArcDirection::with_rotation ? words.with_rotation : words.against_rotation;
  const std::string length = tape_text(arc.length_m, face.units);
  return length == tape_text(0.0, face.units) ? "" : length + " " + way;
}

/// The tape from the mark to the weight, with a tick each centimetre (or inch).
void draw_tape(Sketch& sketch, const FacePiece& piece, const ClockFace& face, double radius_mm) {
  if (!face.outside_diameter_m) return;
  const ArcLength arc = arc_length(piece.angle_rad, *face.outside_diameter_m);
  const double there = clock_deg(piece.angle_rad, face.rotation);
  const bool clockwise = there <= 180.0;
  const double span = clockwise ? there : 360.0 - there;
  if (span < 1.0) return;
  sketch.arc(Role::tape,
             clockwise ? Arc{face_middle, radius_mm, 0.0, there} : Arc{face_middle, radius_mm, there, 360.0},
             fmt::format("tape {:.1f} mm", arc.length_m * 1e3));
  const double tick_m = face.units == UnitSystem::inch ? m_per_in : 0.010;
  for (int i = 0; i * tick_m < arc.length_m; ++i) {
    const double at = (clockwise ? 1.0 : -1.0) * degrees(i * tick_m / (0.5 * *face.outside_diameter_m));
    sketch.line(Role::tape, on_clock(face_middle, radius_mm - (i == 0 ? 3.0 : 1.0), at),
                on_clock(face_middle, radius_mm + (i == 0 ? 1.5 : 1.0), at));
  }
  sketch.arrow_head(Role::tape, on_clock(face_middle, radius_mm, there), there + (clockwise ? 90.0 : -90.0), 4.5);
}

void draw_piece(Sketch& sketch, const FacePiece& piece, const ClockFace& face, const Words& words,
                double tape_radius_mm, Layer layer, std::vector<CallOut>& calls) {
  const double there = clock_deg(piece.angle_rad, face.rotation);
  const std::string clock = clock_position(piece.angle_rad, face.rotation).text();
  const std::string mass = with_decimal_sign(mass_text(piece.mass_kg, face.units), words);
  const bool off = piece.removed || piece.state == PieceState::to_remove;
  const double height = (pad_mm - 0.6) / layer.of;
  const double gap = layer.of > 1 ? 0.7 : 0.0;
  const double inner = (off ? tube_mm - pad_mm : tube_mm + 0.6) + height * layer.at;
  const double outer = inner + height - gap;
  if (piece.state == PieceState::on_shaft) {
    sketch.polygon(off ? Role::to_remove : Role::on_shaft, box_at(there, inner, outer, pad_half_mm),
                   off ? Fill::none : Fill::solid, fmt::format("on shaft {} {}", face.plane, clock));
    calls.push_back({there, Role::quiet, "", "", {clock + "   " + mass}, outer});
    return;
  }
  draw_tape(sketch, piece, face, tape_radius_mm);
  const Role role = off ? Role::to_remove : Role::to_fit;
  sketch.polygon(role, box_at(there, inner, outer, pad_half_mm), Fill::paper,
                 fmt::format("{} {} {}", off ? "to remove" : "to fit", face.plane, clock));
  calls.push_back({there, role, clock, mass, in_column(tape_words(piece, face, words), piece.what), outer});
}

/// Call-outs of one side, kept apart, top to bottom as they stand round the face.
void place_side(Sketch& sketch, std::vector<CallOut> calls, bool right) {
  std::sort(calls.begin(), calls.end(), [&](const CallOut& a, const CallOut& b) {
    return on_clock({}, 1.0, a.clock_deg).y < on_clock({}, 1.0, b.clock_deg).y;
  });
  constexpr double top = 26.0;  // under what `face_to_touch` says
  constexpr double bottom = face_height_mm - 30.0;
  double taken = 0.0;
  for (const CallOut& call : calls) taken += call.height() + 3.0;
  const double shrink = std::min(1.0, (bottom - top) / std::max(taken, 1.0));
  double left_to_place = taken * shrink;
  double free_from = top;
  for (const CallOut& call : calls) {
    const double height = call.height() * shrink;
    const double wanted = on_clock(face_middle, tube_mm, call.clock_deg).y - 0.5 * height;
    double y = std::clamp(wanted, free_from, std::max(free_from, bottom - left_to_place));
    const double x = right ? face_width_mm - column_mm - 2.0 : column_mm + 2.0;
    const Anchor anchor = right ? Anchor::left : Anchor::right;
    const double elbow = x + (right ? -2.0 : 2.0);
    sketch.path(Role::quiet, {on_clock(face_middle, call.from_mm, call.clock_deg),
                              {elbow, y + 0.5 * height},
                              {elbow, y},
                              {elbow, y + height}});
    double line = y;
    for (const std::string& large : {call.first, call.second}) {
      if (large.empty()) continue;
      line += (numeral_mm + 2.2) * shrink;
      sketch.text(call.role, {{x, line - 1.1 * shrink}, large, numeral_mm * shrink, anchor, true, column_mm},
                  "numeral");
    }
    line += call.under_numerals() * shrink;
    for (const std::string& small : call.small) {
      line += (face_note_mm + 2.2) * shrink;
      sketch.name(call.role == Role::quiet ? Role::text : call.role,
                  {{x, line - 1.1 * shrink}, small, face_note_mm * shrink, anchor, false, column_mm - 1.0});
    }
    free_from = y + height + 3.0 * shrink;
    left_to_place -= height + 3.0 * shrink;
  }
}

/// What solid, open and hatched boxes mean, as far as there are any.
void draw_legend(Sketch& sketch, const ClockFace& face, const Words& words) {
  const auto any = [&](PieceState state, bool off) {
    return std::any_of(face.pieces.begin(), face.pieces.end(), [&](const FacePiece& piece) {
      return piece.state == state && (piece.removed || state == PieceState::to_remove) == off;
    });
  };
  const auto row = [&](bool right, double y, Role role, Fill fill, const char* name) {
    const double x = right ? face_width_mm - column_mm - 2.0 : 4.0;
    sketch.polygon(role, {{x, y - 5.0}, {x + 6.0, y - 5.0}, {x + 6.0, y}, {x, y}}, fill);
    sketch.text(Role::text, {{x + 9.0, y - 0.4}, name, face_note_mm, Anchor::left, false, column_mm - 10.0});
  };
  constexpr double low = face_height_mm - 4.0;
  constexpr double high = low - 8.5;
  const bool taken_off = any(PieceState::on_shaft, true);
  if (any(PieceState::on_shaft, false) || !taken_off) row(false, low, Role::on_shaft, Fill::solid, words.on_shaft);
  if (taken_off) row(false, high, Role::to_remove, Fill::none, words.removed);
  if (!face.forbidden.empty()) row(true, low, Role::forbidden, Fill::hatch, words.no_weight);
  if (any(PieceState::to_fit, false)) row(true, high, Role::to_fit, Fill::paper, words.to_fit);
  if (any(PieceState::to_remove, true)) row(true, high - 8.5, Role::to_remove, Fill::paper, words.to_remove);
}

/// The shaft from the side: which plane this is, and from where it is seen.
void draw_side_view(Sketch& sketch, const ClockFace& face) {
  constexpr double y = face_height_mm - 8.0;
  constexpr double half = 28.0;
  const Point a{face_middle.x - half, y};
  const Point b{face_middle.x + half, y};
  sketch.polygon(Role::quiet, {{a.x, y - 3.0}, {b.x, y - 3.0}, {b.x, y + 3.0}, {a.x, y + 3.0}}, Fill::none);
  sketch.line(Role::centre_line, {a.x - 4.0, y}, {b.x + 4.0, y});
  const double x = a.x + 2.0 * half * std::clamp(face.along, 0.0, 1.0);
  sketch.line(Role::outline, {x, y - 5.0}, {x, y + 5.0}, "plane from the side");
  const bool from_a = face.end == "A";
  const double outside = from_a ? a.x - 14.0 : b.x + 14.0;
  sketch.arrow(Role::rotation, {outside, y}, {outside + (from_a ? 9.0 : -9.0), y}, 5.0, "view from " + face.end);
  sketch.text(Role::text, {{a.x - (from_a ? 18.0 : 6.0), y + 2.3}, "A", 4.6, Anchor::right});
  sketch.text(Role::text, {{b.x + (from_a ? 6.0 : 18.0), y + 2.3}, "B", 4.6});
}

}  // namespace

double clock_deg(double shaft_angle_rad, Rotation rotation) {
  return degrees(wrap_positive(rotation == Rotation::counter_clockwise ? shaft_angle_rad : -shaft_angle_rad));
}

namespace {

constexpr double balloon_at_mm = tube_mm + 15.0;  // from the centre
constexpr double balloon_mm = 5.6;                // radius

/// Directions of balloons, deg, beside their pieces and at least so far apart, all round.
std::vector<double> spread(const std::vector<double>& directions, double apart_deg) {
  std::vector<std::size_t> order(directions.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return directions[a] < directions[b]; });
  std::vector<double> at = directions;
  constexpr int enough_rounds = 2000;
  bool moved = order.size() > 1;
  for (int round = 0; moved && round < enough_rounds; ++round) {
    moved = false;
    for (std::size_t i = 0; i < order.size(); ++i) {
      const bool last = i + 1 == order.size();
      double& here = at[order[i]];
      double& next = at[order[last ? 0 : i + 1]];
      const double lacking = apart_deg - (next + (last ? 360.0 : 0.0) - here);
      if (lacking < 1e-3) continue;
      here -= 0.5 * lacking;
      next += 0.5 * lacking;
      moved = true;
    }
  }
  return at;
}

/// The numbers of the pieces round the face, at the ends of lines, so that none hides another.
void draw_balloons(Sketch& sketch, const ClockFace& face) {
  std::vector<double> directions;
  for (const FacePiece& piece : face.pieces) directions.push_back(clock_deg(piece.angle_rad, face.rotation));
  const double whole_deg = 2.0 * degrees(std::asin(balloon_mm / balloon_at_mm)) + 1.0;
  const double apart_deg = std::min(whole_deg, 359.0 / std::max(1.0, static_cast<double>(directions.size())));
  const double scale = std::min(1.0, apart_deg / whole_deg);
  const std::vector<double> at = spread(directions, apart_deg);
  for (std::size_t i = 0; i < at.size(); ++i) {
    const Point balloon = on_clock(face_middle, balloon_at_mm, at[i]);
    sketch.line(Role::quiet, on_clock(face_middle, tube_mm + pad_mm, directions[i]), balloon);
    sketch.disc(Role::quiet, balloon, balloon_mm * scale, Fill::paper);
    sketch.text(Role::text,
                {{balloon.x, balloon.y + 3.0 * scale},
                 std::to_string(face.pieces[i].number),
                 6.0 * scale,
                 Anchor::middle,
                 true,
                 9.0 * scale},
                "row");
  }
}

/// The face alone, its pieces numbered as the parts of an assembly drawing are.
Picture small_clock(const ClockFace& face, const Words& words) {
  Sketch drawn("", face_width_mm, face_height_mm);
  std::vector<CallOut> calls;
  draw_forbidden(drawn, face, calls);
  draw_tube(drawn, face, words);
  const std::vector<Layer> layers = layers_of(face);
  for (std::size_t i = 0; i < layers.size(); ++i)
    draw_piece(drawn, face.pieces[i], face, words, tube_mm + tape_mm, layers[i], calls);
  draw_balloons(drawn, face);
  constexpr double small_width_mm = 120.0;
  constexpr double small_height_mm = 128.0;
  Picture small{put_in(words.plane, face.plane), small_width_mm, small_height_mm, {}};
  put(small, drawn.picture(), {0.5 * small_width_mm - face_middle.x, 70.0 - face_middle.y});
  const Lettering title = fitted({{3.0, 9.0}, small.title, 8.0, Anchor::left, true, 62.0});
  small.shapes.push_back({Role::text, title});
  const Lettering end{{small_width_mm - 3.0, 9.0}, put_in(words.seen_from, face.end), 5.0, Anchor::right, false, 50.0};
  small.shapes.push_back({Role::text, end});
  return small;
}

}  // namespace

Picture clock_picture(const ClockFace& face, const Words& words, Detail detail) {
  if (detail == Detail::small) return small_clock(face, words);
  Sketch sketch(put_in(words.plane, face.plane), face_width_mm, face_height_mm);
  sketch.name(Role::text, {{6.0, 14.0}, put_in(words.plane, face.plane), numeral_mm, Anchor::left, true, 90.0});
  sketch.name(Role::text,
              {{face_width_mm - 6.0, 14.0}, put_in(words.seen_from, face.end), 6.5, Anchor::right, false, 80.0});
  std::vector<CallOut> calls;
  draw_forbidden(sketch, face, calls);
  draw_tube(sketch, face, words);
  int tapes = 0;
  const std::vector<Layer> layers = layers_of(face);
  for (std::size_t i = 0; i < layers.size(); ++i) {
    const FacePiece& piece = face.pieces[i];
    draw_piece(sketch, piece, face, words, tube_mm + tape_mm + tape_step_mm * std::min(tapes, 2), layers[i], calls);
    tapes += piece.state == PieceState::on_shaft ? 0 : 1;
  }
  for (const bool right : {false, true}) {
    std::vector<CallOut> side;
    std::copy_if(calls.begin(), calls.end(), std::back_inserter(side),
                 [&](const CallOut& call) { return call.right() == right; });
    place_side(sketch, std::move(side), right);
  }
  draw_legend(sketch, face, words);
  draw_side_view(sketch, face);
  return std::move(sketch.picture());
}

Picture face_to_touch(const ClockFace& face, const PictureOf& of, const Words& words) {
  Sketch sketch("", face_width_mm, face_height_mm);
  sketch.picture() = clock_picture(face, words);
  constexpr double said_mm = 2.6;
  constexpr double said_row_mm = 3.4;
  constexpr double under_name_mm = 21.0;
  constexpr double half_mm = 92.0;  // left and right of the tapes
  const std::vector<std::string> said = said_of(of, words);
  const std::size_t half = (said.size() + 1) / 2;
  const auto row_of = [&](std::size_t i) {  // two on each side
    return (i % half) / ((half + 1) / 2);
  };
  std::array<std::array<std::string, 2>, 2> rows;
  std::string all;
  for (std::size_t i = 0; i < said.size(); ++i) {
    std::string& row = rows[i / half][row_of(i)];
    row += (row.empty() ? "" : ", ") + said[i];
    all += (all.empty() ? "" : ", ") + said[i];
  }
  for (const std::size_t side : {0U, 1U}) {
    for (const std::size_t row : {0U, 1U}) {
      if (rows[side][row].empty()) continue;
      const Point at{side == 0 ? 6.0 : face_width_mm - 6.0, under_name_mm + said_row_mm * static_cast<double>(row)};
      sketch.name(Role::quiet, {at, rows[side][row], said_mm, side == 0 ? Anchor::left : Anchor::right, false, half_mm},
                  "title");
    }
  }
  sketch.picture().description = sketch.picture().title + ", " + all;
  return std::move(sketch.picture());
}

std::optional<ClockPosition> clock_touched(double of_width, double of_height) {
  const double across_mm = of_width * face_width_mm - face_middle.x;
  const double up_mm = face_middle.y - of_height * face_height_mm;
  const double from_middle_mm = std::hypot(across_mm, up_mm);
  constexpr double nearest_mm = 0.3 * tube_mm;
  constexpr double furthest_mm = 1.6 * tube_mm;
  if (!(from_middle_mm >= nearest_mm && from_middle_mm <= furthest_mm)) return std::nullopt;
  const auto minutes = static_cast<int>(std::lround(2.0 * degrees(std::atan2(across_mm, up_mm))));
  return ClockPosition{(minutes + 720) % 720};
}

}  // namespace counterspot
