#include "recording/csv_head.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "counterspot/units/error.hpp"
#include "recording/column_units.hpp"
#include "recording/columns_taken.hpp"
#include "recording/date_time.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

struct HeadLine {
  std::string_view text;
  std::size_t offset = 0;
  std::int64_t number = 0;
  bool after_blank = false;  ///< an empty line or a comment stands above it
};

/// What stands above the first row, and that row.
struct Above {
  std::vector<HeadLine> lines;
  std::vector<HeadLine> comments;  ///< without their mark
  std::optional<HeadLine> row;
  CsvStyle style;       ///< of the row
  bool stated = false;  ///< where the rows begin is said by the rig file
};

void refuse_other_than_text(std::string_view text, const std::string& name) {
  if (text.empty()) {
    throw Error(Trouble::recording, "no_data", fmt::format("{} is empty", name),
                "record the spin again, and stop the recorder before taking the file off it");
  }
  auto strange = [](char c) { return static_cast<unsigned char>(c) < 32 && std::strchr("\t\n\v\f\r", c) == nullptr; };
  std::string_view start = text.substr(0, 4096);
  if (start.find('\0') != std::string_view::npos || std::any_of(start.begin(), start.end(), strange)) {
    throw Error(Trouble::recording, "unreadable",
                fmt::format("{} is neither a sound file (WAV, RF64, W64, AIFF, FLAC) nor arrays (.npy, .npz, .mat, "
                            "HDF5) nor a table of numbers",
                            name),
                "give a recording in one of these formats, or a CSV file");
  }
}

Error no_rows(const std::string& name) {
  return {Trouble::recording, "no_data", fmt::format("{} has no rows", name),
          "record the spin again, and stop the recorder before taking the file off it"};
}

bool is_number_or_date_time(const std::string& cell, const CsvStyle& style) {
  const bool quoted = cell.size() > 1 && cell.front() == '"' && cell.back() == '"';
  return cell_number(cell, style) || date_time_of(quoted ? std::string_view(cell).substr(1, cell.size() - 2) : cell);
}

/// The columns of a line that is a row in this style; an empty last cell is left out. 0: it is none.
std::size_t columns_of_row(std::string_view line, const CsvStyle& style) {
  auto cells = split_cells(line, style.separator, Quotes::kept);
  if (!cells) return 0;
  if (cells->size() > 1 && cells->back().empty()) cells->pop_back();
  const bool all =
      std::all_of(cells->begin(), cells->end(), [&](const auto& c) { return is_number_or_date_time(c, style); });
  return all ? cells->size() : 0;
}

/// The decimal signs that a table may have whose cells are parted by this: outside of quotes a comma cannot be both.
std::vector<CsvStyle> styles_with(char separator, const StatedFormat& stated) {
  CsvStyle point{separator, '.', '.'};
  CsvStyle comma{separator, separator == ',' ? '.' : ',', ','};
  if (stated.decimal) return {*stated.decimal == ',' ? comma : point};
  return {point, comma};
}

/// How a line is written, if it is a row: tab before semicolon before comma before blanks, for the rarer sign in other
/// roles comes first. A row of one cell has any separator.
std::optional<CsvStyle> style_of_row(std::string_view line, const StatedFormat& stated) {
  std::optional<CsvStyle> single;
  for (const char separator : {'\t', ';', ',', ' '}) {
    if (stated.separator && *stated.separator != separator) continue;
    for (const CsvStyle& style : styles_with(separator, stated)) {
      const std::size_t columns = columns_of_row(line, style);
      if (columns > 1) return style;
      if (columns == 1 && (separator == ',' || stated.separator)) single = single.value_or(style);
    }
  }
  return single;
}

/// Lines of a text, with their numbers.
class HeadLines {
 public:
  explicit HeadLines(std::string_view text, std::size_t offset = 0, std::int64_t lines_before = 0)
      : text_(text), offset_(offset), line_(lines_before) {}

  /// The next one that is not empty.
  std::optional<HeadLine> next() {
    bool after_blank = false;
    while (offset_ < text_.size()) {
      const std::size_t begin = offset_;
      ++line_;
      const auto end = std::min(text_.find('\n', offset_), text_.size());
      offset_ = end + 1;
      const std::string_view line = text_.substr(begin, end - begin);
      if (!trimmed(line).empty()) return HeadLine{line, begin, line_, after_blank};
      after_blank = true;
    }
    return std::nullopt;
  }

 private:
  std::string_view text_;
  std::size_t offset_;
  std::int64_t line_;
};

/// "sep=;", which some programs put in the first line.
std::optional<char> stated_separator(std::string_view line) {
  line = trimmed(line);
  if (line.size() > 1 && line.front() == '"' && line.back() == '"') line = line.substr(1, line.size() - 2);
  if (line == "sep=") return '\t';  // blanks at its end are taken off
  if (line.size() == 5 && line.starts_with("sep=")) return line[4];
  return std::nullopt;
}

/// Of two decimal signs that both fit the first row, the one that fits the first row to which only one fits.
void decide_decimal(std::string_view text, const HeadLine& first, CsvStyle& style, const StatedFormat& stated) {
  const auto styles = styles_with(style.separator, stated);
  HeadLines lines(text, first.offset, first.number - 1);
  while (auto line = lines.next()) {
    std::vector<const CsvStyle*> fitting;
    for (const CsvStyle& one : styles)
      if (columns_of_row(line->text, one) > 0) fitting.push_back(&one);
    if (fitting.size() != 1) continue;
    style = *fitting[0];
    return;
  }
}

Above look_above(std::string_view text, StatedFormat& stated) {
  Above above;
  above.stated = stated.first_row.has_value();
  HeadLines lines(text);
  bool after_comment = false;
  while (auto line = lines.next()) {
    line->after_blank = line->after_blank || after_comment;
    after_comment = false;
    if (above.lines.empty() && stated_separator(line->text)) {
      stated.separator = stated.separator.value_or(*stated_separator(line->text));
      continue;
    }
    if (is_comment(line->text, '\0')) {
      after_comment = true;
      line->text = trimmed(line->text).substr(1);
      above.comments.push_back(*line);
      continue;
    }
    const bool may_be = !stated.first_row || line->number >= *stated.first_row;
    if (const auto style = may_be ? style_of_row(line->text, stated) : std::nullopt) {
      above.row = line;
      above.style = *style;
      decide_decimal(text, *line, above.style, stated);
      return above;
    }
    above.lines.push_back(*line);
  }
  return above;
}

/// A stated first row that no row stands at or below.
void refuse_first_row(const std::string& name, int first_row) {
  throw Error(Trouble::request, "bad_first_row", fmt::format("{} has no row at line {} or below it", name, first_row),
              "correct first_row under [recording] in the rig file, or take it out");
}

/// The cells of a line above the rows, which need not be parted as the rows are. Where blanks part the cells, a unit in
/// brackets belongs to the name before it, and names may have single blanks where two or more part them.
std::vector<std::string> header_cells(std::string_view line, char separator, std::size_t columns) {
  auto cut_to_fit = [&](std::vector<std::string> cells) {
    if (cells.size() == columns + 1 && cells.back().empty()) cells.pop_back();
    return cells;
  };
  std::vector<std::string> first;
  for (const char other : {separator, '\t', ';', ','}) {
    auto cells = split_cells(line, other);
    if (!cells) continue;
    if (other == ' ') cells = with_units_joined(*cells);
    if (other == separator) first = cut_to_fit(*cells);
    if (cut_to_fit(*cells).size() == columns) return cut_to_fit(*cells);
  }
  if (separator == ' ' || separator == ',') {
    if (auto cells = split_at_wide_blanks(line); cells.size() == columns) return cells;
  }
  return first;
}

bool is_units_label(std::string_view cell) {
  return cell == "unit" || cell == "units" || cell == "Unit" || cell == "Units" || cell == "Einheit" ||
         cell == "Einheiten" || cell == "UNIT" || cell == "UNITS";
}

/// Whether all cells of a line are units, and which.
std::optional<std::vector<std::string>> units_of(std::vector<std::string> cells) {
  if (!cells.empty() && is_units_label(cells[0])) cells[0].clear();
  std::vector<std::string> units;
  for (const std::string& cell : cells) {
    auto unit = unit_cell(cell);
    if (!unit) return std::nullopt;
    units.push_back(*unit);
  }
  const bool any = std::any_of(units.begin(), units.end(), [](const auto& unit) { return !unit.empty(); });
  return any ? std::optional(units) : std::nullopt;
}

/// Works out the names of the columns from what stands above the first row.
class Naming {
 public:
  Naming(std::string_view text, std::string name, const Above& above)
      : text_(text), name_(std::move(name)), above_(above), separator_(above.style.separator) {
    columns_ = columns_of_row(above.row->text, above.style);
    head_.style = above.style;
    head_.body_offset = above.row->offset;
    head_.body_line = above.row->number;
    const auto cells = split_cells(above.row->text, separator_);
    head_.style.trailing = cells->size() == columns_ + 1;
  }

  CsvHead head() && {
    if (const auto bad = row_above()) {
      begin_with(*bad);
    } else if (!above_.lines.empty()) {
      read_lines();
    } else {
      read_comments();
    }
    if (head_.columns.empty())
      for (std::size_t i = 1; i <= columns_; ++i) head_.columns.push_back({std::to_string(i), "", ""});
    return std::move(head_);
  }

 private:
  using Cells = std::vector<std::string>;
  Cells cells_of(const HeadLine& line) const { return header_cells(line.text, separator_, columns_); }

  /// A line that begins with a number and has as many cells as the rows is a row that is not sound.
  std::optional<HeadLine> row_above() const {
    if (above_.stated) return std::nullopt;
    for (const HeadLine& line : above_.lines) {
      const auto cells = split_cells(line.text, separator_);
      if (!cells || cells->size() < 2 || cells->size() != columns_) continue;
      if (is_number_or_date_time((*cells)[0], head_.style)) return line;
    }
    return std::nullopt;
  }

  void begin_with(const HeadLine& bad) {
    Above before = above_;
    std::erase_if(before.lines, [&](const HeadLine& line) { return line.offset >= bad.offset; });
    head_.body_offset = bad.offset;
    head_.body_line = bad.number;
    head_.style.trailing = false;
    if (before.lines.empty()) return;
    const HeadLine& last = before.lines.back();
    name_columns(cells_of(last), last.number, std::nullopt);
  }

  void read_lines() {
    const HeadLine& last = above_.lines.back();
    if (std::count(last.text.begin(), last.text.end(), '"') % 2 != 0) {
      throw Error(Trouble::recording, "bad_header",
                  fmt::format("{}, line {}: a quote does not close", name_, last.number),
                  "close the quote, or take it out");
    }
    const bool apart = above_.row->after_blank;  // prose, which a blank line parts from the rows
    if (!fits(cells_of(last)) && apart) return read_comments();
    if (!fits(cells_of(last))) {
      refuse_words_between_blanks(last);
      head_.style.trailing = false;
    }
    read_names(above_.lines);
  }

  /// Comments only name the columns if one of the names is that of a time or has a unit: else it is a remark.
  void read_comments() {
    if (above_.comments.empty()) return;
    const Cells cells = cells_of(above_.comments.back());
    const bool units = units_of(cells) && above_.comments.size() > 1;
    const auto named = split_headers(units ? cells_of(above_.comments[above_.comments.size() - 2]) : cells);
    auto telling = [](const ChannelInfo& column) { return !column.unit.empty() || is_called_time(column.name); };
    if (named.size() != columns_ || cells.size() != columns_) return;
    if (units || std::any_of(named.begin(), named.end(), telling)) read_names(above_.comments);
  }

  /// As many cells as the rows have; where blanks or tabs part them, the name of the rows' numbers may be left out.
  bool fits(const Cells& cells) const {
    return cells.size() == columns_ || (cells.size() + 1 == columns_ && may_be_index() && counts_rows());
  }
  bool may_be_index() const { return separator_ == ' ' || separator_ == '\t'; }

  void read_names(const std::vector<HeadLine>& lines) {
    std::size_t at = lines.size() - 1;
    std::optional<std::vector<std::string>> units;
    std::optional<std::int64_t> units_line;
    if (auto found = units_of(cells_of(lines[at])); found && fits(*found)) {
      units = found;
      units_line = lines[at].number;
      if (at == 0 || !fits(cells_of(lines[at - 1]))) return only_units(*units, *units_line);
      --at;
    }
    name_columns(cells_of(lines[at]), lines[at].number, units);
    head_.units_line = units_line;
  }

  /// A row of units without names above it: the units are the names too, as far as they can be told apart.
  void only_units(const Cells& units, std::int64_t line) {
    for (std::size_t i = 0; i < units.size(); ++i) head_.columns.push_back({std::to_string(i + 1), units[i], units[i]});
    head_.units_line = line;
  }

  void name_columns(Cells cells, std::int64_t line, const std::optional<Cells>& units) {
    if (cells.size() + 1 == columns_ && may_be_index() && counts_rows()) cells.insert(cells.begin(), "");
    if (!cells.empty() && cells.size() == columns_ && cells[0].empty() && counts_rows()) {
      cells[0] = "index";
      head_.has_index = true;
    }
    const auto named = split_headers(cells);
    for (const ChannelInfo& column : named) {
      auto same = [&](const ChannelInfo& other) { return other.name == column.name; };
      if (column.name.empty()) {
        throw Error(Trouble::recording, "bad_header",
                    fmt::format("{}, line {}: column {} has no name", name_, line, head_.columns.size() + 1),
                    "give every column a name, and take out a separator that stands twice or at the end");
      }
      if (std::any_of(head_.columns.begin(), head_.columns.end(), same)) {
        throw Error(Trouble::recording, "bad_header",
                    fmt::format("{}, line {}: two columns are named '{}'", name_, line, column.name),
                    "give every column a name of its own");
      }
      head_.columns.push_back(column);
    }
    if (units) add_units(*units);
    head_.names_line = line;
  }

  void add_units(const Cells& units) {
    const std::size_t index = head_.columns.size() - units.size();  // units may leave it out as names do
    for (std::size_t i = 0; i < units.size(); ++i) {
      ChannelInfo& column = head_.columns[i + index];
      if (column.unit.empty()) column.unit = units[i];
    }
  }

  /// Whether the first cells of the first rows count up by one.
  bool counts_rows() const {
    HeadLines lines(text_, above_.row->offset, above_.row->number - 1);
    std::optional<double> before;
    for (int row = 0; row < 3; ++row) {
      const auto line = lines.next();
      if (!line) break;
      const auto cells = split_cells(line->text, separator_);
      const auto value = cells ? cell_number((*cells)[0], head_.style) : std::nullopt;
      if (!value || *value != std::floor(*value) || (before && *value != *before + 1.0)) return false;
      before = value;
    }
    return true;
  }

  void refuse_words_between_blanks(const HeadLine& line) const {
    if (separator_ != ' ') return;
    throw Error(Trouble::recording, "bad_header",
                fmt::format("{}, line {}: {} words where the rows below have {} cells", name_, line.number,
                            cells_of(line).size(), columns_),
                "name each column without a blank in its name, as in 'time_s accel_g', or begin a line that names none "
                "with #");
  }

  std::string_view text_;
  std::string name_;
  const Above& above_;
  char separator_;
  std::size_t columns_;
  CsvHead head_;
};

/// Tab before semicolon before comma. Quoted signs do not count.
char separator_in(std::string_view line) {
  bool quoted = false;
  bool semicolon = false;
  for (char c : line) {
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if (c == '\t') return '\t';
    semicolon = semicolon || c == ';';
  }
  return semicolon ? ';' : ',';
}

/// A table in which no line is a row: its first line names the columns, and the rows will be refused, unless they are
/// read for less than all of their cells.
CsvHead head_without_rows(std::string_view text, const std::string& name, const Above& above,
                          const StatedFormat& stated) {
  if (above.lines.empty()) throw no_rows(name);
  const HeadLine& first = above.lines[0];
  CsvHead head;
  head.style.separator = stated.separator.value_or(separator_in(first.text));
  head.body_offset = std::min(first.offset + first.text.size() + 1, text.size());
  head.body_line = first.number + 1;
  head.names_line = first.number;
  const std::string_view rows = text.substr(head.body_offset);
  const bool comma = stated.decimal ? *stated.decimal == ',' : rows.find(',') != std::string_view::npos;
  if (head.style.separator != ',' && comma) head.style.decimal = head.style.quoted_decimal = ',';
  const auto cells = split_cells(first.text, head.style.separator);
  if (!cells) {
    throw Error(Trouble::recording, "bad_header",
                fmt::format("{}, line {}: a quote does not close", name, first.number),
                "close the quote, or take it out");
  }
  head.columns = split_headers(*cells);
  return head;
}

void read_date_times(CsvHead& head, std::string_view text) {
  std::string_view row = text.substr(head.body_offset);
  row = row.substr(0, row.find('\n'));
  const auto cells = split_cells(row, head.style.separator);
  if (!cells) return;
  CsvStyle& style = head.style;
  style.date_times.assign(head.columns.size(), false);
  for (std::size_t i = 0; i < std::min(cells->size(), head.columns.size()); ++i) {
    const auto date_time = cell_number((*cells)[i], style) ? std::nullopt : date_time_of((*cells)[i]);
    if (!date_time) continue;
    style.date_times[i] = true;
    style.has_date_times = true;
    if (date_time->has_date) style.first_day = date_time->day;
  }
}

}  // namespace

CsvHead read_csv_head(std::string_view text, const std::string& name, const StatedFormat& stated) {
  refuse_other_than_text(text, name);
  StatedFormat known = stated;
  const Above above = look_above(text, known);
  if (!above.row && stated.first_row) refuse_first_row(name, *stated.first_row);
  CsvHead head = above.row ? Naming(text, name, above).head() : head_without_rows(text, name, above, known);
  read_date_times(head, text);
  state_units(head.columns, name, stated);
  return head;
}

}  // namespace counterspot
