// The only file that knows Cairo and Pango. It is built as a part of its own (libcounterspot_ink.so), loaded at the
// first picture: both libraries with all theirs take the loader about 10 ms, which a program that draws nothing shall
// not pay.
#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <memory>
#include <span>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/units/error.hpp"
#include "drawing/ink/archive.hpp"
#include "drawing/ink/png.hpp"

namespace counterspot {

namespace {

constexpr double points_per_mm = 72.0 / 25.4;
constexpr double hatch_step_mm = 2.2;
constexpr double hatch_line_mm = 0.35;
constexpr double least_line_mm = 0.13;  // the thinnest pen of ISO 128-2
constexpr double degree = 3.14159265358979323846 / 180.0;
constexpr double bold_share = 0.10;  // of a bold pen to the height of a capital
constexpr const char* lettering = "osifont";

template <auto release>
struct Releaser {
  template <typename T>
  void operator()(T* thing) const {
    release(thing);
  }
};
using Surface = std::unique_ptr<cairo_surface_t, Releaser<cairo_surface_destroy>>;
using Canvas = std::unique_ptr<cairo_t, Releaser<cairo_destroy>>;
using Layout = std::unique_ptr<PangoLayout, Releaser<g_object_unref>>;

/// One drawing on one canvas, in millimetres.
class Pen {
 public:
  Pen(cairo_t* canvas, Theme theme) : cr_(canvas), theme_(theme), layout_(pango_cairo_create_layout(canvas)) {
    // Nothing that depends on the screen or the user's settings: no hinting, no rounding of places.
    cairo_font_options_t* options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    PangoContext* context = pango_layout_get_context(layout_.get());
    pango_cairo_context_set_font_options(context, options);
    pango_cairo_context_set_resolution(context, 72.0);
    pango_context_set_round_glyph_positions(context, FALSE);
    pango_context_set_language(context, pango_language_from_string("en"));
    cairo_font_options_destroy(options);
    cairo_set_line_join(cr_, CAIRO_LINE_JOIN_ROUND);
    PangoFontDescription* font = pango_font_description_new();
    pango_font_description_set_family(font, lettering);
    pango_font_description_set_absolute_size(font, size_ * PANGO_SCALE);
    pango_layout_set_font_description(layout_.get(), font);
    pango_font_description_free(font);
    PangoRectangle ink;
    pango_layout_set_text(layout_.get(), "H", -1);
    pango_layout_get_extents(layout_.get(), &ink, nullptr);
    capital_ = std::max(1, ink.height) / static_cast<double>(PANGO_SCALE);
  }

  /// Of the font that is really taken.
  std::string family() const {
    PangoFontDescription* wanted = pango_font_description_new();
    pango_font_description_set_family(wanted, lettering);
    PangoFont* font = pango_context_load_font(pango_layout_get_context(layout_.get()), wanted);
    pango_font_description_free(wanted);
    if (font == nullptr) return "";
    PangoFontDescription* taken = pango_font_describe(font);
    std::string name = pango_font_description_get_family(taken);
    pango_font_description_free(taken);
    g_object_unref(font);
    return name;
  }

  void draw(const Shape& shape) {
    ink_ = ink_of(shape.role, theme_);
    pen_ = shape.pen;
    ink_.line_mm = std::max(least_line_mm, ink_.line_mm * pen_);
    for (double& dash : ink_.dashes_mm) dash *= pen_;
    std::visit([&](const auto& form) { form_of(form, shape.fill); }, shape.form);
  }

  /// The ink of a text, on a canvas that is not scaled.
  TextBox box_of(const Lettering& text) {
    const Laid words = laid(text);
    const auto own = [](int units) { return units / static_cast<double>(PANGO_SCALE); };
    const double pen = text.heavy ? 0.5 * bold_share * capital_ : 0.0;
    const double left = words.from + own(words.ink.x) - pen;
    const double top = own(words.ink.y) - pen;
    const double right = left + own(words.ink.width) + 2.0 * pen;
    const double bottom = top + own(words.ink.height) + 2.0 * pen;
    if (words.ink.width == 0) return {};
    Point least{1e9, 1e9};
    Point most{-1e9, -1e9};
    cairo_save(cr_);
    go_to(text, words.scale);
    for (Point corner : {Point{left, top}, Point{right, top}, Point{right, bottom}, Point{left, bottom}}) {
      cairo_user_to_device(cr_, &corner.x, &corner.y);
      least = {std::min(least.x, corner.x), std::min(least.y, corner.y)};
      most = {std::max(most.x, corner.x), std::max(most.y, corner.y)};
    }
    cairo_restore(cr_);
    return {0, least, most.x - least.x, most.y - least.y};
  }

 private:
  void colour(const std::array<double, 3>& c) { cairo_set_source_rgb(cr_, c[0], c[1], c[2]); }

  /// Fills and strokes the present path.
  void ink_path(Fill fill) {
    if (fill == Fill::solid || fill == Fill::paper) {
      colour(fill == Fill::solid ? ink_.colour : paper_of(theme_));
      cairo_fill_preserve(cr_);
    }
    if (fill == Fill::hatch) hatch();
    colour(ink_.colour);
    cairo_set_line_width(cr_, ink_.line_mm);
    const bool dashed = !ink_.dashes_mm.empty() && fill != Fill::solid;
    cairo_set_line_cap(cr_, dashed ? CAIRO_LINE_CAP_BUTT : CAIRO_LINE_CAP_ROUND);
    cairo_set_dash(cr_, ink_.dashes_mm.data(), dashed ? static_cast<int>(ink_.dashes_mm.size()) : 0, 0.0);
    cairo_stroke(cr_);
  }

  /// Lines at 45 deg, as a section is hatched on a drawing (ISO 128-3).
  void hatch() {
    double x0 = 0.0;
    double y0 = 0.0;
    double x1 = 0.0;
    double y1 = 0.0;
    cairo_path_t* outline = cairo_copy_path(cr_);
    cairo_path_extents(cr_, &x0, &y0, &x1, &y1);
    cairo_save(cr_);
    cairo_clip(cr_);
    const double step = hatch_step_mm * pen_;
    colour(ink_.colour);
    cairo_set_line_width(cr_, std::max(least_line_mm, hatch_line_mm * pen_));
    cairo_set_dash(cr_, nullptr, 0, 0.0);
    for (double c = std::floor((x0 + y0) / step) * step; c < x1 + y1; c += step) {
      cairo_move_to(cr_, c - y0, y0);
      cairo_line_to(cr_, c - y1, y1);
    }
    cairo_stroke(cr_);
    cairo_restore(cr_);
    cairo_append_path(cr_, outline);
    cairo_path_destroy(outline);
  }

  void form_of(const Path& path, Fill fill) {
    if (path.points.empty()) return;
    cairo_new_path(cr_);
    for (const Point& point : path.points) cairo_line_to(cr_, point.x, point.y);
    if (path.closed) cairo_close_path(cr_);
    ink_path(fill);
  }

  void form_of(const Disc& disc, Fill fill) {
    cairo_new_path(cr_);
    cairo_arc(cr_, disc.centre.x, disc.centre.y, disc.radius_mm, 0.0, 360.0 * degree);
    cairo_close_path(cr_);
    ink_path(fill);
  }

  void form_of(const Arc& arc, Fill fill) {
    cairo_new_path(cr_);
    cairo_arc(cr_, arc.centre.x, arc.centre.y, arc.radius_mm, (arc.from_deg - 90.0) * degree,
              (arc.to_deg - 90.0) * degree);
    ink_path(fill);
  }

  /// A line of words, in the font's own units but for the scale.
  struct Laid {
    PangoLayoutLine* line = nullptr;
    double scale = 1.0;  // to mm
    double from = 0.0;   // where it begins, from its place
    PangoRectangle ink{};
  };
  Laid laid(const Lettering& text) {
    Laid laid;
    pango_layout_set_text(layout_.get(), text.words.c_str(), -1);
    PangoRectangle taken;
    pango_layout_get_extents(layout_.get(), nullptr, &taken);
    const double width = taken.width / static_cast<double>(PANGO_SCALE);
    laid.scale = text.height_mm / capital_;
    if (text.fit_mm > 0.0 && width * laid.scale > text.fit_mm) laid.scale = text.fit_mm / width;
    const double share = text.anchor == Anchor::left ? 0.0 : text.anchor == Anchor::middle ? 0.5 : 1.0;
    laid.from = -share * width;
    laid.line = pango_layout_get_line_readonly(layout_.get(), 0);
    pango_layout_line_get_extents(laid.line, &laid.ink, nullptr);
    return laid;
  }

  /// From the user's units to the text's own.
  void go_to(const Lettering& text, double scale) {
    cairo_translate(cr_, text.at.x, text.at.y);
    cairo_rotate(cr_, text.turned_deg * degree);
    cairo_scale(cr_, scale, scale);
  }

  void form_of(const Lettering& text, Fill) {
    const Laid words = laid(text);
    cairo_save(cr_);
    go_to(text, words.scale);
    cairo_move_to(cr_, words.from, 0.0);
    colour(ink_.colour);
    pango_cairo_show_layout_line(cr_, words.line);
    if (text.heavy) press_harder(words.line, words.from);
    cairo_restore(cr_);
  }

  /// The lettering has one weight; a heavier pen makes it bold, as it does by hand.
  void press_harder(PangoLayoutLine* line, double from) {
    cairo_new_path(cr_);
    cairo_move_to(cr_, from, 0.0);
    pango_cairo_layout_line_path(cr_, line);
    cairo_set_line_width(cr_, bold_share * capital_);
    cairo_set_dash(cr_, nullptr, 0, 0.0);
    cairo_stroke(cr_);
  }

  void form_of(const Shades& shades, Fill) {
    const Surface cells(cairo_image_surface_create(CAIRO_FORMAT_RGB24, shades.columns, shades.rows));
    unsigned char* bytes = cairo_image_surface_get_data(cells.get());
    const int stride = cairo_image_surface_get_stride(cells.get());
    const auto paper = paper_of(theme_);
    cairo_surface_flush(cells.get());
    for (int row = 0; row < shades.rows; ++row) {
      for (int column = 0; column < shades.columns; ++column) {
        const double share = std::clamp(
            static_cast<double>(shades.ink[static_cast<std::size_t>(row) * shades.columns + column]), 0.0, 1.0);
        unsigned char* cell = bytes + static_cast<std::ptrdiff_t>(row) * stride + 4 * column;
        for (std::size_t k = 0; k < 3; ++k)
          cell[2 - k] =
              static_cast<unsigned char>(std::lround(255.0 * ((1.0 - share) * paper[k] + share * ink_.colour[k])));
      }
    }
    cairo_surface_mark_dirty(cells.get());
    cairo_save(cr_);
    cairo_translate(cr_, shades.corner.x, shades.corner.y);
    cairo_scale(cr_, shades.width_mm / shades.columns, shades.height_mm / shades.rows);
    cairo_set_source_surface(cr_, cells.get(), 0.0, 0.0);
    cairo_pattern_set_filter(cairo_get_source(cr_), CAIRO_FILTER_NEAREST);
    cairo_paint(cr_);
    cairo_restore(cr_);
  }

  cairo_t* cr_;
  Theme theme_;
  Layout layout_;
  Ink ink_;
  double pen_ = 1.0;
  double size_ = 100.0;    // of the font, in its own units; scaled to what is asked
  double capital_ = 70.0;  // height of a capital at that size
};

cairo_status_t append(void* bytes, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(bytes)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

Surface surface_for(const Picture& picture, const DrawingOptions& options, std::string& bytes) {
  const double width = picture.width_mm * points_per_mm;
  const double height = picture.height_mm * points_per_mm;
  switch (options.format) {
    case PictureFormat::svg: return Surface(cairo_svg_surface_create_for_stream(append, &bytes, width, height));
    case PictureFormat::pdf: return Surface(cairo_pdf_surface_create_for_stream(append, &bytes, width, height));
    case PictureFormat::png: break;
  }
  return Surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                            static_cast<int>(std::lround(picture.width_mm * options.pixels_per_mm)),
                                            static_cast<int>(std::lround(picture.height_mm * options.pixels_per_mm))));
}

std::string time_text(std::int64_t unix_s) {
  namespace chrono = std::chrono;
  const chrono::sys_seconds time{chrono::seconds(unix_s)};
  const auto day = chrono::floor<chrono::days>(time);
  const chrono::year_month_day date(day);
  const chrono::hh_mm_ss clock(time - day);
  char text[40];
  std::snprintf(text, sizeof text, "%04d-%02u-%02uT%02d:%02d:%02dZ", static_cast<int>(date.year()),
                static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                static_cast<int>(clock.hours().count()), static_cast<int>(clock.minutes().count()),
                static_cast<int>(clock.seconds().count()));
  return text;
}

void say_what_it_is(cairo_surface_t* pdf, const ArchiveFacts& facts) {
  cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_TITLE, facts.title.c_str());
  if (!facts.description.empty())
    cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_SUBJECT, facts.description.c_str());
  cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATOR, archive_creator);
  cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATE_DATE, facts.time.c_str());
  cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_MOD_DATE, facts.time.c_str());
}

/// The standard structure types of ISO 32000-1, 14.8.4.
const char* tag_of(Passage::Kind kind) {
  switch (kind) {
    case Passage::Kind::title: return "H1";
    case Passage::Kind::heading: return "H2";
    case Passage::Kind::paragraph: return "P";
    case Passage::Kind::table: return "Table";
    case Passage::Kind::row: return "TR";
    case Passage::Kind::column_name: return "TH";
    case Passage::Kind::cell: return "TD";
    case Passage::Kind::figure: return "Figure";
  }
  return "P";
}

/// What a page is to who hears it, in the order of its shapes.
std::vector<Passage> passages_of(const Picture& page) {
  const std::string& words = page.description.empty() ? page.title : page.description;
  std::vector<Passage> passages = page.passages;
  if (passages.empty()) passages.push_back({Passage::Kind::figure, 0, page.shapes.size(), words});
  std::erase_if(passages, [](const Passage& each) { return each.to <= each.from; });
  return passages;
}

ArchiveFacts facts_of(std::span<const Picture> pages, const DrawingOptions& options) {
  ArchiveFacts facts{
      pages.front().title, pages.front().description, pages.front().language, time_text(options.date_unix_s), {}};
  for (const Picture& page : pages)
    for (const Passage& passage : passages_of(page))
      if (passage.kind == Passage::Kind::figure) facts.figures.push_back(passage.words);
  return facts;
}

PixelRows pixels_of(cairo_surface_t* image) {
  cairo_surface_flush(image);
  const auto height = static_cast<std::size_t>(cairo_image_surface_get_height(image));
  const auto stride = static_cast<std::size_t>(cairo_image_surface_get_stride(image));
  return {{cairo_image_surface_get_data(image), height * stride},
          static_cast<std::uint32_t>(cairo_image_surface_get_width(image)),
          static_cast<std::uint32_t>(height),
          stride};
}

void check(cairo_status_t status) {
  if (status == CAIRO_STATUS_SUCCESS) return;
  throw Error(Trouble::machine, "drawing_failed",
              std::string("the picture could not be drawn: ") + cairo_status_to_string(status),
              "ask for fewer pixels, or make room in memory");
}

void draw_tagged(cairo_t* canvas, Pen& pen, const Picture& page) {
  const std::vector<Passage> passages = passages_of(page);
  auto next = passages.begin();
  std::vector<const Passage*> open;
  const auto close_until = [&](std::size_t shape) {
    for (; !open.empty() && open.back()->to <= shape; open.pop_back()) cairo_tag_end(canvas, tag_of(open.back()->kind));
  };
  for (std::size_t i = 0; i < page.shapes.size(); ++i) {
    close_until(i);
    for (; next != passages.end() && next->from == i; ++next) {
      cairo_tag_begin(canvas, tag_of(next->kind), nullptr);
      open.push_back(&*next);
    }
    pen.draw(page.shapes[i]);
  }
  close_until(page.shapes.size());
}

void draw_page(cairo_surface_t* surface, const Picture& picture, const DrawingOptions& options) {
  const Canvas canvas(cairo_create(surface));
  const bool png = options.format == PictureFormat::png;
  const double scale = png ? options.pixels_per_mm : points_per_mm;
  cairo_scale(canvas.get(), scale, scale);
  const auto paper = paper_of(options.theme);
  if (png || options.theme == Theme::dark) {  // printed, the paper is white by itself
    cairo_set_source_rgb(canvas.get(), paper[0], paper[1], paper[2]);
    cairo_paint(canvas.get());
  }
  Pen pen(canvas.get(), options.theme);
  if (options.format == PictureFormat::pdf) {
    draw_tagged(canvas.get(), pen, picture);
  } else {
    for (const Shape& shape : picture.shapes) pen.draw(shape);
  }
  check(cairo_status(canvas.get()));
}

}  // namespace

}  // namespace counterspot

/// @param pages more than one only of a PDF.
extern "C" __attribute__((visibility("default"))) void counterspot_draw(std::span<const counterspot::Picture> pages,
                                                                        const counterspot::DrawingOptions& options,
                                                                        std::string& bytes) {
  using namespace counterspot;
  const Surface surface = surface_for(pages.front(), options, bytes);
  check(cairo_surface_status(surface.get()));
  const ArchiveFacts facts = facts_of(pages, options);
  if (options.format == PictureFormat::pdf) {
    // Also where a later one would, Cairo packs no objects together: so they can be completed.
    cairo_pdf_surface_restrict_to_version(surface.get(), CAIRO_PDF_VERSION_1_4);
    say_what_it_is(surface.get(), facts);
  }
  for (const Picture& page : pages) {
    if (options.format == PictureFormat::pdf)
      cairo_pdf_surface_set_size(surface.get(), page.width_mm * points_per_mm, page.height_mm * points_per_mm);
    draw_page(surface.get(), page, options);
    if (options.format == PictureFormat::pdf) cairo_surface_show_page(surface.get());
  }
  if (options.format == PictureFormat::png) bytes = png_of(pixels_of(surface.get()), options.pixels_per_mm);
  cairo_surface_finish(surface.get());
  check(cairo_surface_status(surface.get()));
  if (options.format == PictureFormat::pdf) make_archive(bytes, facts);
}

extern "C" __attribute__((visibility("default"))) void counterspot_text_boxes(
    const counterspot::Picture& picture, std::vector<counterspot::TextBox>& boxes) {
  using namespace counterspot;
  const Surface surface(cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1));
  const Canvas canvas(cairo_create(surface.get()));
  check(cairo_status(canvas.get()));
  Pen pen(canvas.get(), Theme::light);
  for (std::size_t i = 0; i < picture.shapes.size(); ++i) {
    const auto* text = std::get_if<Lettering>(&picture.shapes[i].form);
    if (text == nullptr) continue;
    TextBox box = pen.box_of(*text);
    box.shape = i;
    if (box.width_mm > 0.0) boxes.push_back(box);
  }
}

extern "C" __attribute__((visibility("default"))) void counterspot_lettering(std::string& family) {
  using namespace counterspot;
  const Surface surface(cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1));
  const Canvas canvas(cairo_create(surface.get()));
  check(cairo_status(canvas.get()));
  family = Pen(canvas.get(), Theme::light).family();
}
