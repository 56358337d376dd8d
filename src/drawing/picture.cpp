#include <algorithm>
#include <cassert>
#include <cmath>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// A form moved and made larger.
struct Moved {
  Point corner;
  double scale = 1.0;

  Point operator()(Point p) const { return {corner.x + scale * p.x, corner.y + scale * p.y}; }
  void apply(Path& path) const {
    for (Point& point : path.points) point = (*this)(point);
  }
  void apply(Disc& disc) const { disc = {(*this)(disc.centre), scale * disc.radius_mm}; }
  void apply(Arc& arc) const {
    arc.centre = (*this)(arc.centre);
    arc.radius_mm *= scale;
  }
  void apply(Lettering& text) const {
    text.at = (*this)(text.at);
    text.height_mm *= scale;
    text.fit_mm *= scale;
  }
  void apply(Shades& shades) const {
    shades.corner = (*this)(shades.corner);
    shades.width_mm *= scale;
    shades.height_mm *= scale;
  }
};

}  // namespace

Point on_clock(Point centre, double radius_mm, double clock_deg) {
  const double angle = radians(clock_deg);
  return {centre.x + radius_mm * std::sin(angle), centre.y - radius_mm * std::cos(angle)};
}

double clock_deg_of(Point centre, Point point) {
  return degrees(wrap_positive(std::atan2(point.x - centre.x, centre.y - point.y)));
}

void put(Picture& into, const Picture& picture, Point corner, double scale) {
  const Moved moved{corner, scale};
  for (Shape shape : picture.shapes) {
    std::visit([&](auto& form) { moved.apply(form); }, shape.form);
    shape.pen *= scale;
    into.shapes.push_back(std::move(shape));
  }
}

Picture side_by_side(const std::vector<Picture>& pictures, std::size_t columns) {
  assert(columns > 0);
  Picture all;
  if (pictures.empty()) return all;
  all.title = pictures.front().title;
  Point corner;
  double row_height = 0.0;
  for (std::size_t i = 0; i < pictures.size(); ++i) {
    if (i > 0 && i % columns == 0) {
      corner = {0.0, corner.y + row_height};
      row_height = 0.0;
    }
    put(all, pictures[i], corner);
    corner.x += pictures[i].width_mm;
    row_height = std::max(row_height, pictures[i].height_mm);
    all.width_mm = std::max(all.width_mm, corner.x);
  }
  all.height_mm = corner.y + row_height;
  return all;
}

PictureFormat picture_format(std::string_view file) {
  const auto dot = file.rfind('.');
  std::string ending(dot == std::string_view::npos ? "" : file.substr(dot));
  for (char& letter : ending) letter = static_cast<char>(letter >= 'A' && letter <= 'Z' ? letter + 32 : letter);
  if (ending == ".svg") return PictureFormat::svg;
  if (ending == ".png") return PictureFormat::png;
  if (ending == ".pdf") return PictureFormat::pdf;
  throw Error(Trouble::request, "bad_ending",
              std::string(file) + ": the ending does not say what kind of picture this is to be",
              "end the name in .svg, .png or .pdf");
}

}  // namespace counterspot
