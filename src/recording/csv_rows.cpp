#include "recording/csv_rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "recording/column_units.hpp"
#include "recording/date_time.hpp"

namespace counterspot {

namespace {

/// What a number with signs between its thousands is without them: "2.000" and "1,917.24" in either style. Empty if it
/// is none.
std::string number_without_groups(const std::string& cell, const CsvStyle& style) {
  const char decimal = style.separator == ',' ? '.' : style.decimal;
  std::string plain;
  bool groups = false;
  for (const char c : cell) {
    const bool group = (c == '.' || c == ',' || c == '\'') && c != decimal;
    groups = groups || group;
    if (!group) plain += c;
  }
  return groups && cell_number(plain, {'\0', decimal, decimal}) ? plain : "";
}

/// The known unit behind a number: "1.5 g" and "1.5g".
std::optional<std::string> number_with_unit(const std::string& cell) {
  const auto letter = std::find_if(cell.begin(), cell.end(), [](unsigned char c) { return std::isalpha(c) != 0; });
  if (letter == cell.begin() || letter == cell.end()) return std::nullopt;
  const std::string number(cell.begin(), letter);
  if (!cell_number(number, {'\0', '.', '.'}) && !cell_number(number, {'\0', ',', ','})) return std::nullopt;
  return known_unit(std::string(letter, cell.end()));
}

}  // namespace

/// Passes over the line at hand if it is empty or a comment.
bool RowParser::skip_empty() {
  const char* first = at_;
  while (first < end_ && (*first == ' ' || *first == '\t' || *first == '\r')) ++first;
  if (first < end_ && *first != '\n' && !is_comment({first, 1}, style_.separator)) return false;
  at_ = std::find(first, end_, '\n');
  at_ += at_ < end_ ? 1 : 0;
  return true;
}

bool RowParser::other_cell(const char*& at, double& value, std::size_t column) const {
  if (style_.has_date_times && style_.date_times[column]) return date_time_cell(at, value);
  const char* from = at;
  auto parsed = fast_float::from_chars_advanced(at, end_, value, options_);
  if (parsed.ec == std::errc()) {
    at = parsed.ptr;
    while (style_.separator != ' ' && *at == ' ') ++at;
    if (ends_cell<false>(*at) || (style_.separator == ' ' && *at == '\t')) return true;
  }
  at = from;
  return parse_cell(at, end_, value, style_);
}

bool RowParser::date_time_cell(const char*& at, double& value) const {
  auto skip_spaces = [&] {
    while (*at == ' ') ++at;
  };
  skip_spaces();
  const bool quoted = *at == '"';
  if (quoted) ++at;
  const auto date_time = parse_date_time(at, end_, quoted || style_.separator != ',');
  if (!date_time || (quoted && *at++ != '"')) return false;
  value = date_time->seconds_since(date_time->has_date ? style_.first_day : 0);
  if (style_.separator != ' ') skip_spaces();
  return true;
}

std::string_view RowParser::row() const {
  const char* row_end = std::find(row_begin_, end_, '\n');
  return {row_begin_, static_cast<std::size_t>(row_end - row_begin_)};
}

bool RowParser::row_is_cut() const {
  auto cells = split_cells(row(), style_.separator);
  return row().data() + row().size() == end_ && cells && cells->size() < columns_.size() &&
         !is_footer(row(), style_.separator);
}

/// What is wrong with the row at hand, whose parsing stopped at a column.
Error RowParser::refusal(std::size_t column) const {
  const std::string where = fmt::format("{}, line {}", name_, line_);
  auto cells = split_cells(row(), style_.separator);
  if (!cells) {
    return {Trouble::recording, "bad_number", where + ": a quote does not close", "close the quote, or take it out"};
  }
  if (style_.trailing && cells->size() == columns_.size() + 1 && cells->back().empty()) cells->pop_back();
  if (cells->size() != columns_.size()) return ragged(where, cells->size());
  return bad_cell(where, column, (*cells)[column]);
}

Error RowParser::ragged(const std::string& where, std::size_t cells) const {
  std::string remedy = "every row needs one number a column; export the recording again";
  if (style_.separator == ',' && cells > columns_.size()) {
    remedy += ", with semicolons between the cells if a comma is the decimal sign";
  } else if (is_footer(row(), style_.separator)) {
    remedy = "begin a line that is no row with #, or take it out";
  }
  return {Trouble::recording, "ragged_row",
          fmt::format("{}: {} cells where there are {} columns", where, cells, columns_.size()), remedy};
}

Error RowParser::bad_cell(const std::string& where, std::size_t column, const std::string& cell) const {
  const std::string what =
      cell.empty() ? "is empty" : fmt::format("holds '{}', which is not a number", cell.substr(0, 40));
  std::string remedy = "put a number there, or export the recording again";
  const std::string plain = number_without_groups(cell, style_);
  if (!plain.empty()) {
    remedy = fmt::format("write it as {}: export without a sign between thousands", plain);
  } else if (auto unit = number_with_unit(cell)) {
    remedy = fmt::format("write the number alone, and the unit into the column's name: \"{} ({})\"",
                         columns_[column].name, *unit);
  } else if (date_time_of(cell)) {
    remedy = "every row needs a date or time of day there; export the recording again";
  } else if (std::any_of(cell.begin(), cell.end(), [](unsigned char c) { return std::isalpha(c) != 0; })) {
    remedy =
        fmt::format("if column '{}' holds words, leave it out when you export; a line that is no row begins with #",
                    columns_[column].name);
  }
  return {Trouble::recording, "bad_number",
          fmt::format("{}, column {} ('{}') {}", where, column + 1, columns_[column].name, what), remedy};
}

}  // namespace counterspot
