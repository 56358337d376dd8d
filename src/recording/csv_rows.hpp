#pragma once

#include <fast_float/fast_float.h>

#include <string>
#include <vector>

#include "recording/csv_text.hpp"

namespace counterspot {

/// Rows of numbers from text that ends with a line's end.
class RowParser {
 public:
  RowParser(std::string name, const CsvHead& head)
      : name_(std::move(name)),
        columns_(head.columns),
        style_(head.style),
        options_(fast_float::chars_format::general, head.style.decimal),
        line_(head.body_line - 1) {}

  void set_text(const char* begin, const char* end) {
    at_ = begin;
    end_ = end;
  }
  const char* at() const { return at_; }
  const char* row_begin() const { return row_begin_; }
  std::int64_t line() const { return line_; }  ///< of the last row

  /// Parses the next row into `values`, one a column; false when the text is used up.
  /// @throws Error(recording, …) "bad_number", "ragged_row".
  bool next(double* values) {
    if (!find_row()) return false;
    const std::size_t last = columns_.size() - 1;
    for (std::size_t column = 0; column < last; ++column) {
      if (!cell(values[column]) || *at_ != style_.separator) throw refusal(column);
      ++at_;
    }
    if (!cell(values[last])) throw refusal(last);
    if (*at_ == '\r') ++at_;
    if (*at_ != '\n') throw refusal(last);
    at_ += at_ < end_ ? 1 : 0;
    return true;
  }

  /// Whether the row at hand has fewer cells than there are columns, and is the last of the text.
  bool row_is_cut() const;

 private:
  bool find_row() {
    while (at_ < end_) {
      ++line_;
      row_begin_ = at_;
      if (*at_ > '#' || *at_ == '"') return true;  // digits, signs and quotes; most rows
      if (!skip_empty()) return true;
    }
    return false;
  }

  bool cell(double& value) {
    auto parsed = fast_float::from_chars_advanced(at_, end_, value, options_);
    if (parsed.ec != std::errc()) return parse_cell(at_, end_, value, style_);
    at_ = parsed.ptr;
    while (*at_ == ' ') ++at_;
    return true;
  }

  bool skip_empty();
  std::string_view row() const;
  Error refusal(std::size_t column) const;

  std::string name_;
  std::vector<ChannelInfo> columns_;
  CsvStyle style_;
  fast_float::parse_options options_;
  const char* at_ = nullptr;
  const char* end_ = nullptr;
  const char* row_begin_ = nullptr;
  std::int64_t line_;
};

}  // namespace counterspot
