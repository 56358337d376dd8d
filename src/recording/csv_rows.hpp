#pragma once

#include <fast_float/fast_float.h>

#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string>
#include <vector>

#include "recording/csv_head.hpp"

namespace counterspot {

inline constexpr std::uint64_t powers_of_ten[] = {1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000};

inline bool is_digit(char c) {
  return static_cast<unsigned char>(c - '0') < 10;
}

/// Appends `count` digits to a number: the first bytes of a word, each 0 to 9. Neighbours are joined to numbers of two,
/// four and eight digits, all at once.
template <int count>
[[gnu::always_inline]] inline void append(std::uint64_t word, std::uint64_t& number, const char*& at) {
  word <<= 64 - 8 * count;  // leading zeros come in; what follows the digits goes out
  word = (word * 10 + (word >> 8U)) & 0x00FF00FF00FF00FFU;
  word = (word * 100 + (word >> 16U)) & 0x0000FFFF0000FFFFU;
  word = (word * 10000 + (word >> 32U)) & 0xFFFFFFFFU;
  number = number * powers_of_ten[count] + word;
  at += count;
}

/// Appends the digits that a text begins with, and moves `at` behind them. Eight bytes must be readable.
/// How many there are is a jump and not a shift by a number: the processor guesses the jump, which is mostly that of
/// the cell before, and goes on to the next cell while this one is being worked out.
[[gnu::always_inline]] inline void append_digits(std::uint64_t& number, const char*& at) {
  std::uint64_t word = 0;
  std::memcpy(&word, at, sizeof word);
  if constexpr (std::endian::native == std::endian::big) word = __builtin_bswap64(word);
  word ^= 0x3030303030303030U;  // '0' to '9' are 0 to 9 now
  // The top bit of every byte up to the first that is more than 9; a carry only reaches later ones.
  const std::uint64_t others = (word | (word + 0x7676767676767676U)) & 0x8080808080808080U;
  switch (std::countr_zero(others) / 8) {
    case 1: return append<1>(word, number, at);
    case 2: return append<2>(word, number, at);
    case 3: return append<3>(word, number, at);
    case 4: return append<4>(word, number, at);
    case 5: return append<5>(word, number, at);
    case 6: return append<6>(word, number, at);
    case 7: return append<7>(word, number, at);
    case 8: break;
    default: return;
  }
  append<8>(word, number, at);
  for (; is_digit(*at); ++at) number = 10 * number + static_cast<std::uint64_t>(*at - '0');
}

/// Rows of numbers from text that ends with a line's end.
class RowParser {
 public:
  RowParser(std::string name, const CsvHead& head)
      : name_(std::move(name)),
        columns_(head.columns),
        style_(head.style),
        options_(fast_float::chars_format::general, head.style.decimal) {}

  /// What is parsed next; a few bytes behind it can be read. @param lines_before in the file.
  void set_text(const TextPiece& piece, std::int64_t lines_before) {
    at_ = piece.begin();
    end_ = piece.end();
    line_ = lines_before;
  }
  const char* at() const { return at_; }
  std::int64_t line() const { return line_; }  ///< of the last row

  /// Parses the next row into `values`, one per column; false when the text is used up.
  /// @throws Error(recording, …) "bad_number", "ragged_row".
  bool next(double* values) {
    if (!find_row()) return false;
    return style_.separator == ' ' ? row_between_blanks(values) : row_between_separators(values);
  }

  /// Whether the row at hand has fewer cells than there are columns, and is the last of the text.
  bool row_is_cut() const;

 private:
  [[gnu::always_inline]] bool row_between_separators(double* values) {
    const std::size_t last = columns_.size() - 1;
    const char* at = at_;
    for (std::size_t column = 0; column < last; ++column) {
      if (!cell<false>(at, values[column], column) || *at != style_.separator) throw refusal(column);
      ++at;
    }
    if (!cell<false>(at, values[last], last)) throw refusal(last);
    if (style_.trailing && *at == style_.separator) ++at;
    end_row(at, last);
    return true;
  }

  [[gnu::always_inline]] bool row_between_blanks(double* values) {
    const std::size_t last = columns_.size() - 1;
    const char* at = at_;
    skip_blanks(at);
    for (std::size_t column = 0; column < last; ++column) {
      if (!cell<true>(at, values[column], column) || !is_blank(*at)) throw refusal(column);
      skip_blanks(++at);
    }
    if (!cell<true>(at, values[last], last)) throw refusal(last);
    skip_blanks(at);
    end_row(at, last);
    return true;
  }

  [[gnu::always_inline]] static void skip_spaces(const char*& at) {
    while (*at == ' ') ++at;
  }

  static bool is_blank(char c) { return c == ' ' || c == '\t'; }

  [[gnu::always_inline]] static void skip_blanks(const char*& at) {
    while (is_blank(*at)) ++at;
  }

  [[gnu::always_inline]] void end_row(const char* at, std::size_t last) {
    if (*at == '\r') ++at;
    if (*at != '\n') throw refusal(last);
    at_ = at + (at < end_ ? 1 : 0);
  }

  bool find_row() {
    while (at_ < end_) {
      ++line_;
      row_begin_ = at_;
      if (is_digit(*at_) || *at_ == '-' || *at_ == '"') return true;  // most rows
      if (!skip_empty()) return true;
    }
    return false;
  }

  /// Digits with perhaps a sign and a decimal sign, as nearly all cells are, and spaces around them. With at most 15
  /// digits both the digits as a whole number and the power of ten are exact doubles, so that their quotient is the
  /// correctly rounded value (Clinger 1990, "How to read floating point numbers accurately"). All else is left to
  /// fast_float.
  template <bool blanks>
  [[gnu::always_inline]] bool plain_cell(const char*& from, double& value) const {
    static constexpr double powers[2][16] = {
        {1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15},
        {-1e0, -1e1, -1e2, -1e3, -1e4, -1e5, -1e6, -1e7, -1e8, -1e9, -1e10, -1e11, -1e12, -1e13, -1e14, -1e15}};
    if constexpr (!blanks) skip_spaces(from);
    const bool negative = *from == '-';
    const char* at = from + (negative ? 1 : 0);
    if (!is_digit(*at)) return false;
    std::uint64_t digits = 0;
    do digits = 10 * digits + static_cast<std::uint64_t>(*at - '0');
    while (is_digit(*++at));
    std::ptrdiff_t decimals = 0;
    if (*at == style_.decimal) {
      const char* first = ++at;
      append_digits(digits, at);
      decimals = at - first;
    }
    if (at - from > 15) return false;
    if constexpr (!blanks) skip_spaces(at);
    if (!ends_cell<blanks>(*at)) return false;
    value = static_cast<double>(static_cast<std::int64_t>(digits)) / powers[negative ? 1 : 0][decimals];
    from = at;
    return true;
  }

  template <bool blanks>
  [[gnu::always_inline]] bool ends_cell(char c) const {
    if constexpr (blanks) return c == ' ' || c == '\n' || c == '\r' || c == '\t';
    return c == style_.separator || c == '\n' || c == '\r';
  }

  template <bool blanks>
  [[gnu::always_inline]] bool cell(const char*& at, double& value, std::size_t column) const {
    return plain_cell<blanks>(at, value) || other_cell(at, value, column);
  }

  bool skip_empty();
  bool other_cell(const char*& at, double& value, std::size_t column) const;
  bool date_time_cell(const char*& at, double& value) const;
  std::string_view row() const;
  Error refusal(std::size_t column) const;
  Error ragged(const std::string& where, std::size_t cells) const;
  Error bad_cell(const std::string& where, std::size_t column, const std::string& cell) const;

  std::string name_;
  std::vector<ChannelInfo> columns_;
  CsvStyle style_;
  fast_float::parse_options options_;
  const char* at_ = nullptr;
  const char* end_ = nullptr;
  const char* row_begin_ = nullptr;
  std::int64_t line_ = 0;
};

}  // namespace counterspot
