#include "recording/csv_rows.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace counterspot {

/// Passes over the line at hand if it is empty or a comment.
bool RowParser::skip_empty() {
  const char* first = at_;
  while (first < end_ && (*first == ' ' || *first == '\t' || *first == '\r')) ++first;
  if (first < end_ && *first != '\n' && *first != '#') return false;
  at_ = std::find(first, end_, '\n');
  at_ += at_ < end_ ? 1 : 0;
  return true;
}

bool RowParser::other_cell(const char*& at, double& value) const {
  auto parsed = fast_float::from_chars_advanced(at, end_, value, options_);
  if (parsed.ec != std::errc()) return parse_cell(at, end_, value, style_);
  at = parsed.ptr;
  while (*at == ' ') ++at;
  return true;
}

std::string_view RowParser::row() const {
  const char* row_end = std::find(row_begin_, end_, '\n');
  return {row_begin_, static_cast<std::size_t>(row_end - row_begin_)};
}

bool RowParser::row_is_cut() const {
  auto cells = split_cells(row(), style_.separator);
  return row().data() + row().size() == end_ && cells && cells->size() < columns_.size();
}

/// What is wrong with the row at hand, whose parsing stopped at a column.
Error RowParser::refusal(std::size_t column) const {
  std::string where = fmt::format("{}, line {}", name_, line_);
  auto cells = split_cells(row(), style_.separator);
  if (!cells) {
    return {Trouble::recording, "bad_number", where + ": a quote does not close", "close the quote, or take it out"};
  }
  if (cells->size() != columns_.size()) {
    std::string remedy = "every row needs one number a column; export the recording again";
    if (style_.separator == ',' && cells->size() > columns_.size()) {
      remedy += ", with semicolons between the cells if a comma is the decimal sign";
    }
    return {Trouble::recording, "ragged_row",
            fmt::format("{}: {} cells where there are {} columns", where, cells->size(), columns_.size()), remedy};
  }
  const std::string& text = (*cells)[column];
  std::string what = text.empty() ? "is empty" : fmt::format("holds '{}', which is not a number", text.substr(0, 40));
  return {Trouble::recording, "bad_number",
          fmt::format("{}, column {} ('{}') {}", where, column + 1, columns_[column].name, what),
          "put a number there, or export the recording again"};
}

}  // namespace counterspot
