#pragma once

#include <fast_float/fast_float.h>

#include <array>
#include <cstddef>
#include <cstdint>
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

  /// Digits with perhaps a sign and a decimal sign, as nearly all cells are. With at most 15 digits both the digits as
  /// a whole number and the power of ten are exact doubles, so that their quotient is the correctly rounded value
  /// (Clinger 1990, "How to read floating point numbers accurately"). All else is left to fast_float.
  bool plain_cell(double& value) {
    static constexpr std::array powers_of_ten = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    auto is_digit = [](char c) { return static_cast<unsigned char>(c - '0') < 10; };
    const char* at = at_;
    const bool negative = *at == '-';
    at += negative ? 1 : 0;
    const char* first = at;
    std::uint64_t digits = 0;
    for (; is_digit(*at); ++at) digits = 10 * digits + static_cast<std::uint64_t>(*at - '0');
    std::ptrdiff_t count = at - first;
    std::ptrdiff_t decimals = 0;
    if (*at == style_.decimal) {
      first = ++at;
      for (; is_digit(*at); ++at) digits = 10 * digits + static_cast<std::uint64_t>(*at - '0');
      decimals = at - first;
      count += decimals;
    }
    if (count == 0 || count > 15 || *at == 'e' || *at == 'E') return false;
    double size = static_cast<double>(static_cast<std::int64_t>(digits)) / powers_of_ten[decimals];
    value = negative ? -size : size;
    at_ = at;
    return true;
  }

  bool cell(double& value) {
    if (plain_cell(value)) {
      while (*at_ == ' ') ++at_;
      return true;
    }
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
