#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace counterspot {

/// A picture before it is ink: shapes in millimetres, each with the part it plays. What a shape means is said once, by
/// its role; a theme turns roles into ink. The same picture is drawn as SVG, PNG or PDF, and tests ask it, not pixels.
///
/// The look is that of a workshop drawing, which hangs beside the rig: lettering by ISO 3098-1, lines by ISO 128-2, 45
/// deg hatching where nothing may go, words beside the thing at the end of a leader line. What hands need (hour, mass)
/// is 9.3 mm high: 16 minutes of arc at two metres. Nothing is said by colour alone: there is solid, to fit open, to
/// take off dashed; within, outside and unsure are disc, cross and open diamond. Every ink has a contrast of 4.5 to its
/// paper.

/// From the upper left corner, x to the right, y downwards, mm.
struct Point {
  double x = 0.0;
  double y = 0.0;
  bool operator==(const Point&) const = default;
};

enum class Role {
  paper,        ///< covers what is under it
  text,         ///< words to be read first
  quiet,        ///< words and leader lines to be read second
  grid,         ///< help lines
  outline,      ///< the edge of a real thing: tube, frame, axis
  centre_line,  ///< long dashes and dots, as for an axis of symmetry (ISO 128-2, line type 04)
  mark,         ///< what the tach sees
  rotation,     ///< the way the shaft turns
  on_shaft,     ///< a weight that is there: solid
  to_fit,       ///< a weight to fit: an open shape
  to_remove,    ///< metal to take away: an open shape, dashed
  forbidden,    ///< hatched: no weight here
  tape,         ///< a length as the tape measure shows it
  limit,        ///< permissible: long dash, two dots (ISO 128-2, line type 05)
  uncertainty,  ///< dotted, lightly hatched
  earlier,      ///< a spin that is over: thin, dashed
  latest,       ///< the last spin: thick
  series_1,
  series_2,
  series_3,
  series_4,  ///< curves: each its own dash and marker besides its ink
};
inline constexpr std::size_t role_count = 21;

/// Straight lines from point to point; closed: a polygon.
struct Path {
  std::vector<Point> points;
  bool closed = false;
};

struct Disc {
  Point centre;
  double radius_mm = 0.0;
};

/// Part of a circle, clockwise. Directions in degrees clockwise from straight up, as on a clock.
struct Arc {
  Point centre;
  double radius_mm = 0.0;
  double from_deg = 0.0;
  double to_deg = 0.0;
};

enum class Anchor { left, middle, right };

/// One line of words on its base line.
struct Lettering {
  Point at;
  std::string words;
  double height_mm = 5.0;  ///< of a capital letter or a digit, as ISO 3098-1 counts lettering
  Anchor anchor = Anchor::left;
  bool heavy = false;
  double fit_mm = 0.0;    ///< made narrower to fit this width; 0: as wide as it comes
  double turned_deg = 0;  ///< clockwise
};

/// Shades of one ink in cells, row by row from the top: 0 paper, 1 all ink.
struct Shades {
  Point corner;
  double width_mm = 0.0;
  double height_mm = 0.0;
  int columns = 0;
  int rows = 0;
  std::vector<float> ink;
};

enum class Fill { none, solid, paper, hatch };

struct Shape {
  Role role = Role::outline;
  std::variant<Path, Disc, Arc, Lettering, Shades> form;
  Fill fill = Fill::none;
  double pen = 1.0;          ///< times the role's line: smaller in a picture within another
  std::string meaning = {};  ///< what it stands for, such as "to fit A 8:55"; for those who ask the picture
};

/// What shapes that follow one another are to who hears a page read aloud; one may lie in another, as cells in a row.
struct Passage {
  enum class Kind { title, heading, paragraph, table, row, column_name, cell, figure };
  Kind kind = Kind::paragraph;
  std::size_t from = 0;    ///< its first shape
  std::size_t to = 0;      ///< the first one behind it
  std::string words = {};  ///< of a figure: what it shows
};

struct Picture {
  std::string title;
  double width_mm = 0.0;
  double height_mm = 0.0;
  std::vector<Shape> shapes;
  std::string description = {};        ///< a sentence for who cannot see it
  std::vector<Passage> passages = {};  ///< in the order in which they begin; none: all of it is one figure
  std::string language = {};           ///< of its words, as in `Words`; empty: not said
};

/// The point at a distance from a centre, in a direction clockwise from straight up.
Point on_clock(Point centre, double radius_mm, double clock_deg);
/// The direction of a point seen from a centre, clockwise from straight up, [0, 360).
double clock_deg_of(Point centre, Point point);

/// Puts a picture into another: its upper left corner at `corner`, everything, lines too, made larger by `scale`.
void put(Picture& into, const Picture& picture, Point corner, double scale = 1.0);

/// Pictures side by side (and in rows of `columns`), as one.
Picture side_by_side(const std::vector<Picture>& pictures, std::size_t columns);

enum class Theme { light, dark };

/// What a role looks like in a theme.
struct Ink {
  std::array<double, 3> colour{};  ///< sRGB, 0 to 1
  double line_mm = 0.5;
  std::vector<double> dashes_mm;  ///< ink, gap, ink, …; empty: unbroken
};
Ink ink_of(Role role, Theme theme);
std::array<double, 3> paper_of(Theme theme);

enum class PictureFormat { svg, png, pdf };
/// By the ending of a file's name. @throws Error(request, "bad_ending") that names the endings taken.
PictureFormat picture_format(std::string_view file);

struct DrawingOptions {
  PictureFormat format = PictureFormat::svg;
  Theme theme = Theme::light;
  double pixels_per_mm = 6.0;    ///< of PNG; about 150 dots an inch
  std::int64_t date_unix_s = 0;  ///< that a PDF says of itself: of the work, not of the moment it is drawn
};

/// The bytes of a file; the same for the same picture. A PDF is one for the archive, PDF/A-2u (ISO 19005-2), and
/// tagged. Cairo and Pango are loaded at the first call, so that a program that draws nothing does not wait for them.
/// Lettering: osifont (ISO 3098-1), embedded; without it the system's own.
/// @throws Error(machine, …) "no_ink" (the part that draws is not installed), "drawing_failed".
std::string draw(const Picture& picture, const DrawingOptions& options);
/// The same of several pages, at least one: in a PDF a page each, in the other formats one below another.
std::string draw(std::span<const Picture> pages, const DrawingOptions& options);

/// The ink of a text, upright.
struct TextBox {
  std::size_t shape = 0;  ///< whose it is, in the picture
  Point corner;           ///< the upper left one
  double width_mm = 0.0;
  double height_mm = 0.0;
};
/// Of every text of a picture that leaves any ink, as it is drawn. @throws as `draw`.
std::vector<TextBox> text_boxes(const Picture& picture);

}  // namespace counterspot
