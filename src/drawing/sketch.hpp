#pragma once

#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/model/rig.hpp"
#include "drawing/fitted.hpp"

namespace counterspot {

/// Short ways of putting shapes into a picture.
class Sketch {
 public:
  Sketch(std::string title, double width_mm, double height_mm) : picture_{std::move(title), width_mm, height_mm, {}} {}

  void line(Role role, Point from, Point to, std::string meaning = {}) { path(role, {from, to}, std::move(meaning)); }
  void path(Role role, std::vector<Point> points, std::string meaning = {}) {
    add(role, Path{std::move(points), false}, Fill::none, std::move(meaning));
  }
  void polygon(Role role, std::vector<Point> points, Fill fill, std::string meaning = {}) {
    add(role, Path{std::move(points), true}, fill, std::move(meaning));
  }
  void disc(Role role, Point centre, double radius_mm, Fill fill = Fill::none, std::string meaning = {}) {
    add(role, Disc{centre, radius_mm}, fill, std::move(meaning));
  }
  void arc(Role role, Arc arc, std::string meaning) { add(role, arc, Fill::none, std::move(meaning)); }
  void text(Role role, Lettering lettering, std::string meaning = {}) {
    add(role, std::move(lettering), Fill::none, std::move(meaning));
  }
  /// A name of any length, in a width.
  void name(Role role, Lettering lettering, std::string meaning = {}) {
    text(role, fitted(std::move(lettering)), std::move(meaning));
  }
  void shades(Role role, Shades shades, std::string meaning) {
    add(role, std::move(shades), Fill::none, std::move(meaning));
  }
  /// A filled head whose point is at `tip`, pointing clockwise from straight up by `clock_deg`.
  void arrow_head(Role role, Point tip, double clock_deg, double size_mm, std::string meaning = {}) {
    polygon(role, {tip, on_clock(tip, size_mm, clock_deg + 160.0), on_clock(tip, size_mm, clock_deg - 160.0)},
            Fill::solid, std::move(meaning));
  }
  void arrow(Role role, Point from, Point to, double head_mm, const std::string& meaning) {
    line(role, from, to, meaning);
    if (std::hypot(to.x - from.x, to.y - from.y) > 0.8 * head_mm) arrow_head(role, to, clock_deg_of(from, to), head_mm);
  }

  /// What is drawn from now on, up to its `end`, is a passage. @return which, for `end`, which may be moved further on.
  std::size_t begin(Passage::Kind kind, std::string words = {}) {
    picture_.passages.push_back({kind, picture_.shapes.size(), picture_.shapes.size(), std::move(words)});
    return picture_.passages.size() - 1;
  }
  void end(std::size_t passage) { picture_.passages[passage].to = picture_.shapes.size(); }
  /// A passage that is one text.
  void text(Passage::Kind kind, Role role, Lettering lettering, std::string meaning = {}) {
    const std::size_t passage = begin(kind);
    text(role, std::move(lettering), std::move(meaning));
    end(passage);
  }

  Picture& picture() { return picture_; }

 private:
  /// Made where it stays: a shape that is moved there holds, to GCC 12 at -O3, what its other forms left uninitialised.
  template <typename Form>
  void add(Role role, Form form, Fill fill, std::string meaning) {
    Shape& shape = picture_.shapes.emplace_back();
    shape.role = role;
    shape.form = std::move(form);
    shape.fill = fill;
    shape.meaning = std::move(meaning);
  }

  Picture picture_;
};

/// Where a shaft angle stands on the clock, in degrees clockwise from 12:00, [0, 360). It runs clockwise where the
/// shaft is seen to turn counter-clockwise, since shaft angles count against the rotation.
double clock_deg(double shaft_angle_rad, Rotation rotation);

}  // namespace counterspot
