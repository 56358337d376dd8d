#include <fmt/format.h>

#include <algorithm>

#include "counterspot/drawing/picture_words.hpp"
#include "sheet/framed_page.hpp"
#include "sheet/text.hpp"

namespace counterspot {

namespace {

constexpr double small_mm = 2.0;
constexpr double body_mm = 2.5;
constexpr double foot_mm = 34.0;           // cautions, seal, signatures and title block
constexpr double least_picture_mm = 48.0;  // with the words over them

using Page = FramedPage;

Judged judged(const Sheet& sheet) {
  if (sheet.verdict == Verdict::within) return Judged::well;
  return sheet.verdict == Verdict::outside ? Judged::badly : Judged::neither;
}

void draw_head(Page& page, const Sheet& sheet, const Words& words) {
  page.sketch.text(Passage::Kind::title, Role::text,
                   {{page.left, page.top + 11.0}, words.sheet_title, 7.0, Anchor::left, true, 100.0});
  draw_whole(Passage::Kind::paragraph, page.sketch, {page.left, page.top + 18.0}, sheet.job, page.width() - 68.0, 8.0,
             4.5);
  draw_judged(page, judged(sheet), verdict_words(sheet, words));
  page.y = page.top + 22.0;
}

/// Recordings in columns: a few with all digits, many with the first sixteen (the log has the rest).
struct Recordings {
  std::size_t columns = 1;
  std::size_t digits = 64;
  double row_height = 3.6;
};
Recordings recordings_layout(std::size_t count) {
  if (count <= 8) return {};
  return {count <= 24 ? std::size_t{2} : std::size_t{3}, 16, 3.4};
}

/// In the row's column; `y` of the page is the row's lower edge.
void draw_recording(Page& page, const Sheet& sheet, std::size_t spin_at, const Recordings& layout, const Words& words) {
  const SheetSpin& spin = sheet.spins[spin_at];
  const double column = page.width() / static_cast<double>(layout.columns);
  const double x = page.left + column * static_cast<double>(spin_at % layout.columns);
  const double digits_mm = layout.digits == 64 ? 100.0 : 24.0;
  const double y = page.y - 0.8;
  const std::size_t passage = page.sketch.begin(Passage::Kind::paragraph);
  page.sketch.text(Role::text,
                   {{x, y}, spin_words(spin, words), small_mm, Anchor::left, false, column - digits_mm - 4.0});
  std::string digits = spin.sha256.substr(0, layout.digits);
  if (digits.size() < spin.sha256.size()) digits += "..";
  page.sketch.text(Role::text, {{x + column - 2.0, y}, digits, small_mm, Anchor::right, false, digits_mm});
  page.sketch.end(passage);
}

void draw_recordings(FramedPages& pages, const Sheet& sheet, const Words& words) {
  const Recordings layout = recordings_layout(sheet.spins.size());
  pages.with_room(4.0 + layout.row_height);
  draw_paragraph(pages, Role::quiet, words.recordings, body_mm, Passage::Kind::heading);
  for (std::size_t i = 0; i < sheet.spins.size(); ++i) {
    if (i % layout.columns == 0) pages.with_room(layout.row_height).y += layout.row_height;
    draw_recording(pages.page(), sheet, i, layout, words);
  }
  pages.page().y += 1.5;
}

/// Room that is left is ruled, to be written on by hand.
void draw_remarks(Page& page, double from, double to, const Words& words) {
  constexpr double ruled_mm = 8.0;
  constexpr double least_mm = 20.0;
  if (to - from < least_mm) return;
  page.sketch.text(Passage::Kind::heading, Role::quiet, {{page.left, from + 6.0}, words.remarks, body_mm});
  for (double y = from + 6.0 + ruled_mm; y < to - 1.0; y += ruled_mm)
    page.sketch.line(Role::grid, {page.left, y}, {page.right, y});
}

/// Faces and vectors, as large as the room that is left allows: two rows, or one.
void draw_pictures(Page& page, const Sheet& sheet, const Words& words, double room_mm) {
  if (!sheet.diagrams.empty()) {
    constexpr double key_mm = 4.4;
    page.sketch.text(
        Passage::Kind::paragraph, Role::quiet,
        {{page.left, page.y + 3.0}, words.picture().vectors_key, small_mm, Anchor::left, false, page.width()});
    page.y += key_mm;
    room_mm -= key_mm;
  }
  std::vector<Picture> faces;
  std::vector<Picture> vectors;
  for (const ClockFace& face : sheet.faces) faces.push_back(clock_picture(face, words, Detail::small));
  for (const VectorDiagram& diagram : sheet.diagrams) vectors.push_back(vector_picture(diagram, words, Detail::small));
  const auto planes = static_cast<double>(faces.size());
  const double stacked = std::min(page.width() / planes, 0.5 * room_mm);
  const double in_line = std::min(0.5 * page.width() / planes, room_mm);
  const bool two_rows = stacked > in_line;
  const double size = two_rows ? stacked : in_line;
  const double cell = page.width() / (two_rows ? planes : 2.0 * planes);
  for (std::size_t p = 0; p < faces.size(); ++p) {
    const auto place = [&](const Picture& picture, double column, double row) {
      const double scale = size / std::max(picture.width_mm, picture.height_mm);
      draw_picture(page, picture,
                   {page.left + cell * column + 0.5 * (cell - scale * picture.width_mm), page.y + size * row}, scale);
    };
    const auto column = static_cast<double>(p);
    place(faces[p], two_rows ? column : 2.0 * column, 0.0);
    if (p < vectors.size()) place(vectors[p], two_rows ? column : 2.0 * column + 1.0, two_rows ? 1.0 : 0.0);
  }
  const double taken = two_rows ? 2.0 * size : size;
  draw_remarks(page, page.y + taken, page.y + room_mm, words);
  page.y += room_mm;
}

/// On every page, so that none can be exchanged: cautions, the seal, and who answers for it.
void draw_foot(Page& page, const Sheet& sheet, const Words& words, std::size_t number, std::size_t count) {
  const double top = page.bottom - foot_mm;
  page.sketch.line(Role::on_shaft, {page.left - Page::inset_mm, top}, {page.right + Page::inset_mm, top});
  double y = top;
  const std::size_t cautions = page.sketch.begin(Passage::Kind::paragraph);
  std::vector<std::string> lines = lines_within(words.cautions, page.width(), small_mm);
  if (!sheet.seal.empty()) lines.push_back(seal_words(sheet, words));
  for (std::size_t i = 0; i < lines.size(); ++i) {
    y += 3.4;
    const bool seal = !sheet.seal.empty() && i + 1 == lines.size();
    page.sketch.text(Role::text, {{page.left, y}, lines[i], small_mm, Anchor::left, false, page.width()},
                     seal ? "seal" : "");
  }
  page.sketch.end(cautions);
  const double boxes = y + 2.0;
  const double third = (page.width() + 2.0 * Page::inset_mm) / 3.0;
  const double left = page.left - Page::inset_mm;
  draw_signature(page, left, left + third, boxes, words.balanced_by, words.date_and_signature);
  draw_signature(page, left + third, left + 2.0 * third, boxes, words.inspected_by, words.date_and_signature);
  const double x = left + 2.0 * third + 2.0;
  const double width = third - 4.0;
  page.sketch.line(Role::quiet, {x - 2.0, boxes}, {page.right + Page::inset_mm, boxes});
  const std::size_t block = page.sketch.begin(Passage::Kind::paragraph);
  page.sketch.text(Role::text, {{x, boxes + 5.0}, words.sheet_title, 3.0, Anchor::left, true, 0.6 * width});
  page.sketch.text(
      Role::text,
      {{x + width, boxes + 5.0}, page_words(words, number, count), body_mm, Anchor::right, false, 0.37 * width},
      "page");
  const double below = page.bottom - boxes - 5.0 - 5.5;
  draw_whole(page.sketch, {x, boxes + 6.5 + 0.5 * below + 1.0}, sheet.job, width, below, 3.5);
  page.sketch.text(
      Role::quiet,
      {{x, page.bottom - 2.0}, put_in(words.program, sheet.program), small_mm, Anchor::left, false, width});
  page.sketch.end(block);
}

void draw_pieces(FramedPages& pages, const Sheet& sheet, const Words& words, UnitSystem units) {
  pages.with_room(16.0);
  draw_paragraph(pages, Role::text,
                 sheet.pieces.empty() ? fmt::format("{}: {}", words.pieces, words.no_pieces) : words.pieces, body_mm,
                 Passage::Kind::heading);
  pages.page().y += 0.8;
  if (!sheet.pieces.empty())
    draw_table(pages, pieces_table(sheet, words, units), {0.0, 0.05, 0.16, 0.36, 0.45, 0.76, 0.89}, 2);
  const std::string off_again = off_again_words(sheet, words, units);
  if (!off_again.empty()) draw_paragraph(pages, Role::quiet, off_again, small_mm);
}

void draw_notes(FramedPages& pages, const Sheet& sheet, const Words& words, UnitSystem units) {
  const std::vector<std::string> notes = notes_of(sheet, words, units);
  if (notes.empty()) return;
  pages.with_room(10.0);
  draw_paragraph(pages, Role::quiet, words.notes, body_mm, Passage::Kind::heading);
  for (const std::string& note : notes) draw_paragraph(pages, Role::text, "· " + note, small_mm);
}

/// What is in doubt is read first.
void draw_rules(FramedPages& pages, const Sheet& sheet, const Words& words) {
  const std::vector<std::string> sentences = rule_words(sheet, words);
  for (std::size_t i = 0; i < sentences.size(); ++i) {
    const bool doubt = i < sheet.held_back.size();
    draw_paragraph(pages, doubt ? Role::text : Role::quiet, sentences[i], doubt ? body_mm : small_mm);
  }
}

/// All that is on the sheet, with a room for the pictures.
FramedPages filled(const Sheet& sheet, const Words& words, UnitSystem units, Paper paper, double pictures_mm) {
  FramedPages pages(fmt::format("{} {}", words.sheet_title, sheet.job), paper, foot_mm,
                    [&](Page& page) { draw_head(page, sheet, words); });
  draw_pairs(pages, facts_of(sheet, words, units));
  if (!sheet.places.empty())
    draw_table(pages, places_table(sheet, words, units), {0.0, 0.13, 0.28, 0.45, 0.62, 0.80, 0.895}, 3);
  draw_rules(pages, sheet, words);
  pages.page().y += 1.5;
  draw_pieces(pages, sheet, words, units);
  draw_pictures(pages.with_room(pictures_mm), sheet, words, pictures_mm);
  draw_notes(pages, sheet, words, units);
  draw_recordings(pages, sheet, words);
  return pages;
}

}  // namespace

std::vector<Picture> sheet_pages(const Sheet& sheet, const Words& words, UnitSystem units, Paper paper) {
  FramedPages pages = filled(sheet, words, units, paper, least_picture_mm);
  constexpr double nothing_mm = 1e-6;
  // What is left of one page is for the pictures; of the last of several, for remarks.
  if (pages.count() == 1) pages = filled(sheet, words, units, paper, least_picture_mm + pages.room_mm() - nothing_mm);
  Page& last = pages.page();
  draw_remarks(last, last.y, last.bottom - foot_mm, words);
  std::vector<Picture> pictures = std::move(pages).finished(
      [&](Page& page, std::size_t number, std::size_t count) { draw_foot(page, sheet, words, number, count); });
  for (Picture& picture : pictures) {
    picture.description = sheet_in_a_sentence(sheet, words);
    picture.language = words.language;
  }
  return pictures;
}

std::string sheet_file(const Sheet& sheet, PictureFormat format, const Words& words, UnitSystem units, Paper paper) {
  DrawingOptions options;
  options.format = format;
  options.pixels_per_mm = 8.0;
  options.date_unix_s = sheet.date_unix_s;
  return draw(sheet_pages(sheet, words, units, paper), options);
}

}  // namespace counterspot
