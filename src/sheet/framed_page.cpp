#include "sheet/framed_page.hpp"

#include <algorithm>
#include <utility>

#include "sheet/text.hpp"

namespace counterspot {

namespace {

// Lettering by ISO 3098-1: 2.5 mm is the least for reading on paper, 3.5 mm for values, 7 mm for titles.
constexpr double least_letters_mm = 2.0;
constexpr double name_mm = 2.5;
constexpr double value_letters_mm = 3.0;
constexpr double cell_mm = 2.8;
constexpr double row_mm = 5.0;
constexpr double fact_row_mm = 4.4;
constexpr double letter_share = 0.64;  // of a letter's width to its height; a line that is wider is drawn narrower
constexpr double line_pitch = 1.5;     // from base line to base line, in heights of a letter

FramedPage framed_page(const std::string& title, Paper paper) {
  const double width = paper == Paper::a4 ? 210.0 : 215.9;
  const double height = paper == Paper::a4 ? 297.0 : 279.4;
  FramedPage page{Sketch(title, width, height), 20.0, width - 10.0, 10.0, height - 10.0, 10.0};
  page.sketch.polygon(
      Role::on_shaft,
      {{page.left, page.top}, {page.right, page.top}, {page.right, page.bottom}, {page.left, page.bottom}}, Fill::none,
      "frame");
  page.left += FramedPage::inset_mm;
  page.right -= FramedPage::inset_mm;
  return page;
}

double height_of(std::size_t lines, double letters_mm, double least_mm) {
  return std::max(least_mm, line_pitch * letters_mm * static_cast<double>(lines) + 1.2);
}

/// How high words become in a room of that width, whole.
double height_whole(const std::string& words, double width_mm, double letters_mm) {
  if (lines_within(words, width_mm, letters_mm).size() == 1) return 0.0;
  return height_of(lines_within(words, width_mm, least_letters_mm).size(), least_letters_mm, 0.0);
}

}  // namespace

FramedPages::FramedPages(std::string title, Paper paper, double foot_mm, Head head)
    : title_(std::move(title)), paper_(paper), foot_mm_(foot_mm), head_(std::move(head)) {
  begin_page();
}

void FramedPages::begin_page() {
  pages_.push_back(framed_page(title_, paper_));
  head_(pages_.back());
}

double FramedPages::room_mm() const {
  return pages_.back().bottom - foot_mm_ - pages_.back().y;
}

FramedPage& FramedPages::with_room(double wanted_mm) {
  if (room_mm() < wanted_mm) begin_page();
  return page();
}

std::vector<Picture> FramedPages::finished(const std::function<void(FramedPage&, std::size_t, std::size_t)>& foot) && {
  std::vector<Picture> pictures;
  for (std::size_t i = 0; i < pages_.size(); ++i) {
    foot(pages_[i], i + 1, pages_.size());
    pictures.push_back(std::move(pages_[i].sketch.picture()));
  }
  return pictures;
}

std::vector<std::string> lines_within(const std::string& text, double width_mm, double letters_mm) {
  return wrapped(text, std::max<std::size_t>(4, static_cast<std::size_t>(width_mm / (letter_share * letters_mm))));
}

void draw_whole(Sketch& sketch, Point middle, const std::string& words, double width_mm, double room_mm,
                double letters_mm) {
  double letters = letters_mm;
  std::vector<std::string> lines = lines_within(words, width_mm, letters);
  const auto height = [&] { return line_pitch * letters * static_cast<double>(lines.size()); };
  while (lines.size() > 1 && letters > least_letters_mm && height() > room_mm) {
    letters = std::max(least_letters_mm, letters - 0.25);
    lines = lines_within(words, width_mm, letters);
  }
  const double up = 0.5 * line_pitch * letters * static_cast<double>(lines.size() - 1);
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const double y = middle.y - up + line_pitch * letters * static_cast<double>(i);
    sketch.text(Role::text, {{middle.x, y}, lines[i], letters, Anchor::left, false, width_mm});
  }
}

void draw_whole(Passage::Kind kind, Sketch& sketch, Point middle, const std::string& words, double width_mm,
                double room_mm, double letters_mm) {
  const std::size_t passage = sketch.begin(kind);
  draw_whole(sketch, middle, words, width_mm, room_mm, letters_mm);
  sketch.end(passage);
}

namespace {

/// One row of a table, cut into lines.
struct TableCells {
  std::vector<std::vector<std::string>> lines;  ///< [column][line]
  double height_mm = 0.0;
};

TableCells cells_of(const std::vector<std::string>& row, const std::vector<double>& widths_mm, double letters_mm) {
  TableCells cells;
  std::size_t most = 1;
  for (std::size_t c = 0; c < row.size(); ++c) {
    cells.lines.push_back(lines_within(row[c], widths_mm[c], letters_mm));
    most = std::max(most, cells.lines.back().size());
  }
  cells.height_mm = height_of(most, letters_mm, row_mm);
  return cells;
}

void draw_cells(FramedPage& page, const TableCells& cells, const std::vector<double>& edges,
                const std::vector<double>& widths_mm, Role role, double letters_mm, std::size_t heavy) {
  const std::size_t row = page.sketch.begin(Passage::Kind::row);
  std::size_t cell = row;
  for (std::size_t c = 0; c < cells.lines.size(); ++c) {
    cell = page.sketch.begin(role == Role::quiet ? Passage::Kind::column_name : Passage::Kind::cell);
    for (std::size_t l = 0; l < cells.lines[c].size(); ++l) {
      const double y = page.y + letters_mm + 1.0 + line_pitch * letters_mm * static_cast<double>(l);
      page.sketch.text(role, {{page.left + edges[c] * page.width(), y},
                              cells.lines[c][l],
                              letters_mm,
                              Anchor::left,
                              c == heavy,
                              widths_mm[c]});
    }
    page.sketch.end(cell);
  }
  page.y += cells.height_mm;
  page.sketch.line(role == Role::quiet ? Role::quiet : Role::grid, {page.left, page.y}, {page.right, page.y});
  page.sketch.end(cell);
  page.sketch.end(row);
}

}  // namespace

void draw_table(FramedPages& pages, const std::vector<std::vector<std::string>>& rows, const std::vector<double>& edges,
                std::size_t heavy) {
  std::vector<double> widths_mm;
  for (std::size_t c = 0; c < edges.size(); ++c)
    widths_mm.push_back(((c + 1 < edges.size() ? edges[c + 1] : 1.0) - edges[c]) * pages.page().width() - 1.5);
  const TableCells names = cells_of(rows.front(), widths_mm, name_mm);
  std::size_t table = 0;
  const auto begin = [&](FramedPage& page) {
    page.sketch.line(Role::quiet, {page.left, page.y}, {page.right, page.y});
    table = page.sketch.begin(Passage::Kind::table);
    draw_cells(page, names, edges, widths_mm, Role::quiet, name_mm, edges.size());
  };
  std::size_t begun_on = 0;
  for (std::size_t r = 1; r < rows.size(); ++r) {
    const TableCells cells = cells_of(rows[r], widths_mm, cell_mm);
    FramedPage& page = pages.with_room(cells.height_mm + (begun_on == 0 ? names.height_mm : 0.0));
    if (begun_on != pages.count()) begin(page);
    begun_on = pages.count();
    draw_cells(page, cells, edges, widths_mm, Role::text, cell_mm, heavy);
    page.sketch.end(table);
  }
  pages.page().y += 1.5;
}

void draw_pairs(FramedPages& pages, const std::vector<std::pair<std::string, std::string>>& facts) {
  const std::size_t rows = (facts.size() + 1) / 2;
  const double column = 0.5 * pages.page().width();
  constexpr double value_at_mm = 32.0;
  const double value_width = column - value_at_mm - 3.0;
  std::size_t begun_on = 0;
  std::size_t table = 0;
  for (std::size_t row = 0; row < rows; ++row) {
    double height = fact_row_mm;
    for (std::size_t i = row; i < facts.size(); i += rows)
      height = std::max(height, height_whole(facts[i].second, value_width, value_letters_mm));
    FramedPage& page = pages.with_room(height);
    const double y = page.y + 0.5 * height + 0.35 * value_letters_mm;
    if (begun_on != pages.count()) table = page.sketch.begin(Passage::Kind::table);
    begun_on = pages.count();
    const std::size_t told = page.sketch.begin(Passage::Kind::row);
    for (std::size_t i = row; i < facts.size(); i += rows) {
      const double x = page.left + (i < rows ? 0.0 : column);
      const auto& [name, value] = facts[i];
      page.sketch.text(Passage::Kind::column_name, Role::quiet,
                       {{x, y}, name, name_mm, Anchor::left, false, value_at_mm - 2.0});
      const std::size_t cell = page.sketch.begin(Passage::Kind::cell);
      if (value.empty())
        page.sketch.line(Role::grid, {x + value_at_mm, y + 0.6}, {x + column - 3.0, y + 0.6}, "to write on");
      else
        draw_whole(page.sketch, {x + value_at_mm, y}, value, value_width, height, value_letters_mm);
      page.sketch.end(cell);
    }
    page.sketch.end(told);
    page.sketch.end(table);
    page.y += height;
  }
  pages.page().y += 2.0;
}

void draw_paragraph(FramedPages& pages, Role role, const std::string& words, double letters_mm, Passage::Kind kind) {
  std::size_t begun_on = 0;
  std::size_t passage = 0;
  for (const std::string& line : lines_within(words, pages.page().width(), letters_mm)) {
    const double pitch = 1.6 * letters_mm;
    FramedPage& page = pages.with_room(pitch);
    page.y += pitch;
    if (begun_on != pages.count()) passage = page.sketch.begin(kind);
    begun_on = pages.count();
    page.sketch.text(role,
                     {{page.left, page.y - 0.35 * letters_mm}, line, letters_mm, Anchor::left, false, page.width()});
    page.sketch.end(passage);
  }
}

void draw_judged(FramedPage& page, Judged judged, const std::string& words) {
  const double left = page.right - 62.0;
  const auto box = [&](double in) {
    return std::vector<Point>{{left + in, page.top + 3.0 + in},
                              {page.right - in, page.top + 3.0 + in},
                              {page.right - in, page.top + 19.0 - in},
                              {left + in, page.top + 19.0 - in}};
  };
  const bool badly = judged == Judged::badly;
  page.sketch.polygon(judged == Judged::well ? Role::latest
                      : badly                ? Role::forbidden
                                             : Role::earlier,
                      box(0.0), badly ? Fill::hatch : Fill::none, "verdict frame");
  if (badly) page.sketch.polygon(Role::forbidden, box(3.0), Fill::paper);
  page.sketch.text(Passage::Kind::paragraph, badly ? Role::forbidden : Role::text,
                   {{0.5 * (left + page.right), page.top + 13.6}, words, 6.0, Anchor::middle, true, 50.0}, "verdict");
}

void draw_signature(FramedPage& page, double left, double right, double top, const char* who,
                    const char* date_and_signature) {
  page.sketch.polygon(Role::quiet, {{left, top}, {right, top}, {right, page.bottom}, {left, page.bottom}}, Fill::none,
                      "signature");
  const std::size_t passage = page.sketch.begin(Passage::Kind::paragraph);
  page.sketch.text(Role::quiet, {{left + 2.0, top + 4.5}, who, 2.5, Anchor::left, false, right - left - 4.0});
  page.sketch.line(Role::quiet, {left + 3.0, page.bottom - 5.5}, {right - 3.0, page.bottom - 5.5}, "signature line");
  page.sketch.text(Role::quiet,
                   {{left + 3.0, page.bottom - 2.0}, date_and_signature, 2.0, Anchor::left, false, right - left - 6.0});
  page.sketch.end(passage);
}

void draw_picture(FramedPage& page, const Picture& picture, Point corner, double scale) {
  const std::size_t figure =
      page.sketch.begin(Passage::Kind::figure, picture.description.empty() ? picture.title : picture.description);
  put(page.sketch.picture(), picture, corner, scale);
  page.sketch.end(figure);
}

std::string page_words(const Words& words, std::size_t number, std::size_t count) {
  return put_in(put_in(words.page_of, std::to_string(number)).c_str(), std::to_string(count));
}

}  // namespace counterspot
