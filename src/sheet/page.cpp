#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sheet/framed_page.hpp"
#include "sheet/text.hpp"

namespace counterspot {

namespace {

// Lettering by ISO 3098-1: 2.5 mm is the least for reading on paper, 3.5 mm for values, 7 mm for titles.
constexpr double small_mm = 2.0;
constexpr double body_mm = 2.5;
constexpr double value_mm = 3.0;
constexpr double line_mm = 4.4;  // from base line to base line of the body
constexpr double row_mm = 5.2;   // of a table
constexpr double least_row_mm = 3.2;
constexpr double inset_mm = FramedPage::inset_mm;
constexpr double foot_mm = 31.0;  // title block
constexpr double least_picture_mm = 44.0;
constexpr double seal_mm = 3.6;  // its line

using Page = FramedPage;

constexpr double letter_share = 0.72;  // of a letter's width to its height, on the safe side
constexpr double line_pitch = 1.3;     // from base line to base line, in heights of a letter

/// How many lines words take in the smallest letters, if one line of larger ones does not do.
std::size_t lines_of(const std::string& words, double width_mm, double letters_mm) {
  if (static_cast<double>(words.size()) <= width_mm / (letter_share * letters_mm)) return 1;
  return wrapped(words, static_cast<std::size_t>(width_mm / (letter_share * small_mm))).size();
}

/// Words that must be read whole: in the largest letters, up to `letters_mm`, whose lines fit into the room.
/// @param middle the base line if it is one line; several are centred about it.
void draw_whole(Sketch& sketch, Point middle, const std::string& words, double width_mm, double room_mm,
                double letters_mm) {
  std::vector<std::string> lines{words};
  double letters = letters_mm;
  if (lines_of(words, width_mm, letters_mm) > 1) {
    do {
      letters = std::max(small_mm, letters - 0.25);
      lines = wrapped(words, static_cast<std::size_t>(width_mm / (letter_share * letters)));
    } while (letters > small_mm && line_pitch * letters * static_cast<double>(lines.size()) > room_mm);
  }
  const double up = 0.5 * line_pitch * letters * static_cast<double>(lines.size() - 1);
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const double y = middle.y - up + line_pitch * letters * static_cast<double>(i);
    sketch.text(Role::text, {{middle.x, y}, lines[i], letters, Anchor::left, false, width_mm});
  }
}

/// The verdict in a frame that tells it from across the room: heavy and whole, hatched as what is forbidden, or broken.
void draw_verdict(Page& page, const Sheet& sheet, const Words& words) {
  const double left = page.right - 62.0;
  const std::vector<Point> box{
      {left, page.top + 3.0}, {page.right, page.top + 3.0}, {page.right, page.top + 19.0}, {left, page.top + 19.0}};
  const bool outside = sheet.verdict == Verdict::outside;
  page.sketch.polygon(sheet.verdict == Verdict::within ? Role::latest
                      : outside                        ? Role::forbidden
                                                       : Role::earlier,
                      box, outside ? Fill::hatch : Fill::none, "verdict frame");
  if (outside) {
    page.sketch.polygon(Role::forbidden,
                        {{left + 4.0, page.top + 6.0},
                         {page.right - 4.0, page.top + 6.0},
                         {page.right - 4.0, page.top + 16.0},
                         {left + 4.0, page.top + 16.0}},
                        Fill::paper);
  }
  page.sketch.text(
      outside ? Role::forbidden : Role::text,
      {{0.5 * (left + page.right), page.top + 14.3}, verdict_words(sheet, words), 6.5, Anchor::middle, true, 48.0},
      "verdict");
}

void draw_head(Page& page, const Sheet& sheet, const Words& words) {
  page.sketch.text(Role::text, {{page.left, page.top + 11.0}, words.sheet_title, 7.0, Anchor::left, true, 100.0});
  draw_whole(page.sketch, {page.left, page.top + 18.0}, sheet.job, page.width() - 68.0, 8.0, 4.5);
  draw_verdict(page, sheet, words);
  page.y = page.top + 23.0;
}

void draw_facts(Page& page, const Sheet& sheet, const Words& words) {
  const auto facts = facts_of(sheet, words);
  const std::size_t rows = (facts.size() + 1) / 2;
  const double column = 0.5 * page.width();
  const double value_width = column - 36.0;
  for (std::size_t row = 0; row < rows; ++row) {
    double height = line_mm;
    for (std::size_t i = row; i < facts.size(); i += rows) {
      const auto lines = static_cast<double>(lines_of(facts[i].second, value_width, value_mm));
      height = std::max(height, line_pitch * small_mm * lines + 1.5);
    }
    const double y = page.y + 0.5 * height + 0.5 * value_mm;
    for (std::size_t i = row; i < facts.size(); i += rows) {
      const double x = page.left + (i < rows ? 0.0 : column);
      page.sketch.text(Role::quiet, {{x, y}, facts[i].first, body_mm, Anchor::left, false, 32.0});
      draw_whole(page.sketch, {x + 34.0, y}, facts[i].second, value_width, height, value_mm);
    }
    page.y += height;
  }
  page.y += 3.0;
}

/// @param edges where columns begin, as shares of the width. @param heavy a column written heavier.
void draw_table(Page& page, const std::vector<Row>& rows, const std::vector<double>& edges, std::size_t heavy,
                double row_height) {
  const double letters = std::min(value_mm, 0.62 * row_height);
  page.sketch.line(Role::quiet, {page.left, page.y}, {page.right, page.y});
  for (std::size_t r = 0; r < rows.size(); ++r) {
    page.y += row_height;
    for (std::size_t c = 0; c < rows[r].size(); ++c) {
      const double from = page.left + edges[c] * page.width();
      const double to = c + 1 < edges.size() ? page.left + edges[c + 1] * page.width() : page.right;
      page.sketch.text(r == 0 ? Role::quiet : Role::text, {{from, page.y - 0.30 * row_height},
                                                           rows[r][c],
                                                           r == 0 ? std::min(body_mm, letters) : letters,
                                                           Anchor::left,
                                                           r > 0 && c == heavy,
                                                           to - from - 1.5});
    }
    page.sketch.line(r == 0 ? Role::quiet : Role::grid, {page.left, page.y}, {page.right, page.y});
  }
  page.y += 1.5;
}

void draw_sentence(Page& page, Role role, const std::string& words, double letters_mm = body_mm) {
  page.y += line_mm;
  page.sketch.text(role, {{page.left, page.y - 1.0}, words, letters_mm, Anchor::left, false, page.width()});
}

std::vector<std::string> note_lines(const Page& page, const Sheet& sheet, const Words& words, UnitSystem units,
                                    std::size_t most) {
  std::vector<std::string> lines;
  const auto letters = static_cast<std::size_t>(page.width() / (letter_share * small_mm));
  for (const std::string& note : notes_of(sheet, words, units))
    for (const std::string& line : wrapped("· " + note, letters)) lines.push_back(line);
  if (lines.size() <= most) return lines;
  const std::size_t left_out = lines.size() - most + 1;
  lines.resize(most - 1);
  lines.push_back(put_in(words.and_more, std::to_string(left_out)));
  return lines;
}

/// Recordings in columns: a few with all digits, many with the first sixteen (the log has the rest).
struct Recordings {
  std::size_t columns = 1;
  std::size_t digits = 64;
  std::size_t rows = 0;
  double row_height = 3.6;
};
Recordings recordings_layout(std::size_t count) {
  if (count <= 8) return {1, 64, count, 3.6};
  const std::size_t columns = count <= 24 ? 2 : 3;
  return {columns, 16, (count + columns - 1) / columns, 3.2};
}

void draw_recordings(Page& page, const Sheet& sheet, const Words& words) {
  const Recordings layout = recordings_layout(sheet.spins.size());
  draw_sentence(page, Role::quiet, words.recordings);
  const double column = page.width() / static_cast<double>(layout.columns);
  for (std::size_t i = 0; i < sheet.spins.size(); ++i) {
    const SheetSpin& spin = sheet.spins[i];
    const std::size_t in_column = i / layout.rows;
    const std::size_t in_row = i % layout.rows;
    const double x = page.left + column * static_cast<double>(in_column);
    const double y = page.y + layout.row_height * static_cast<double>(in_row + 1) - 0.8;
    const double digits_mm = layout.digits == 64 ? 100.0 : 27.0;
    page.sketch.text(Role::text,
                     {{x, y}, spin_words(spin, words), small_mm, Anchor::left, false, column - digits_mm - 4.0});
    std::string digits = spin.sha256.substr(0, layout.digits);
    if (digits.size() < spin.sha256.size()) digits += "…";
    page.sketch.text(Role::text, {{x + column - 2.0, y}, digits, small_mm, Anchor::right, false, digits_mm});
  }
  page.y += layout.row_height * static_cast<double>(layout.rows) + 1.0;
  page.y += seal_mm;
  if (sheet.seal.empty()) return;
  page.sketch.text(Role::text,
                   {{page.left, page.y - 1.6}, seal_words(sheet, words), small_mm, Anchor::left, false, page.width()},
                   "seal");
}

/// Room that is left is ruled, to be written on by hand.
void draw_remarks(Page& page, double from, double to, const Words& words) {
  constexpr double ruled_mm = 8.0;
  constexpr double least_mm = 20.0;
  if (to - from < least_mm) return;
  page.sketch.text(Role::quiet, {{page.left, from + 6.0}, words.remarks, body_mm});
  for (double y = from + 6.0 + ruled_mm; y < to - 1.0; y += ruled_mm)
    page.sketch.line(Role::grid, {page.left, y}, {page.right, y});
}

/// Faces and vectors, as large as the room that is left allows: two rows, or one.
void draw_pictures(Page& page, const Sheet& sheet, const Words& words, double room_mm) {
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
      put(page.sketch.picture(), picture,
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

void draw_foot(Page& page, const Sheet& sheet, const Words& words) {
  const double top = page.bottom - foot_mm;
  page.sketch.line(Role::on_shaft, {page.left - inset_mm, top}, {page.right + inset_mm, top});
  const auto letters = static_cast<std::size_t>(page.width() / (letter_share * small_mm));
  double y = top;
  for (const std::string& line : wrapped(words.cautions, letters)) {
    y += 3.4;
    page.sketch.text(Role::text, {{page.left, y}, line, small_mm, Anchor::left, false, page.width()});
  }
  const double boxes = y + 2.0;
  const double third = (page.width() + 2.0 * inset_mm) / 3.0;
  const double left = page.left - inset_mm;
  draw_signature(page, left, left + third, boxes, words.balanced_by, words.date_and_signature);
  draw_signature(page, left + third, left + 2.0 * third, boxes, words.inspected_by, words.date_and_signature);
  const double x = left + 2.0 * third;
  page.sketch.line(Role::quiet, {x, boxes}, {page.right + inset_mm, boxes});
  page.sketch.text(Role::text, {{x + 2.0, boxes + 6.0}, words.sheet_title, 3.5, Anchor::left, true, third - 4.0});
  draw_whole(page.sketch, {x + 2.0, boxes + 13.0}, sheet.job, third - 4.0, 10.0, 3.5);
  page.sketch.text(
      Role::quiet,
      {{x + 2.0, page.bottom - 2.0}, put_in(words.program, sheet.program), small_mm, Anchor::left, false, third - 4.0});
}

}  // namespace

Picture sheet_page(const Sheet& sheet, const Words& words, UnitSystem units, Paper paper) {
  Page page = framed_page(fmt::format("{} {}", words.sheet_title, sheet.job), paper);
  draw_head(page, sheet, words);
  draw_facts(page, sheet, words);
  if (!sheet.places.empty()) draw_table(page, places_table(sheet, words), {0.0, 0.24, 0.42, 0.66, 0.82}, 2, row_mm);
  const auto letters = static_cast<std::size_t>(page.width() / (letter_share * body_mm));
  for (const std::string& sentence : rule_words(sheet, words))
    for (const std::string& line : wrapped(sentence, letters)) draw_sentence(page, Role::quiet, line);
  page.y += 1.5;

  const auto notes = note_lines(page, sheet, words, units, 7);
  const Recordings recordings = recordings_layout(sheet.spins.size());
  const double below = (notes.empty() ? 0.0 : line_mm + 3.4 * static_cast<double>(notes.size())) + line_mm +
                       recordings.row_height * static_cast<double>(recordings.rows) + 3.0 + seal_mm + foot_mm;
  const auto pieces = pieces_table(sheet, words, units);
  const double room_for_table = page.bottom - page.y - below - least_picture_mm - 8.0;
  const double row_height = std::clamp(room_for_table / static_cast<double>(pieces.size()), least_row_mm, row_mm);
  draw_sentence(page, Role::text,
                sheet.pieces.empty() ? fmt::format("{}: {}", words.pieces, words.no_pieces) : words.pieces);
  page.y += 0.8;
  if (!sheet.pieces.empty()) draw_table(page, pieces, {0.0, 0.05, 0.16, 0.36, 0.45, 0.76, 0.89}, 2, row_height);

  draw_pictures(page, sheet, words, std::max(20.0, page.bottom - page.y - below));
  if (!notes.empty()) draw_sentence(page, Role::quiet, words.notes);
  for (const std::string& line : notes) {
    page.y += 3.4;
    page.sketch.text(Role::text, {{page.left, page.y - 0.8}, line, small_mm, Anchor::left, false, page.width()});
  }
  draw_recordings(page, sheet, words);
  draw_foot(page, sheet, words);
  return std::move(page.sketch.picture());
}

std::string sheet_file(const Sheet& sheet, PictureFormat format, const Words& words, UnitSystem units, Paper paper) {
  DrawingOptions options;
  options.format = format;
  options.pixels_per_mm = 8.0;
  options.date_unix_s = sheet.date_unix_s;
  return draw(sheet_page(sheet, words, units, paper), options);
}

}  // namespace counterspot
