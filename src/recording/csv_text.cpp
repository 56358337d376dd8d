#include "recording/csv_text.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstring>

#include "recording/date_time.hpp"
#include "units/text.hpp"

namespace counterspot {

namespace {

constexpr std::size_t readable_behind = 16;  // behind the text of a piece

/// [+-]1.234.567,89: at least one group and the comma.
bool parse_grouped(const char*& at, const char* end, double& value) {
  std::string plain;
  const char* from = at;
  if (from < end && *from == '-') plain += *from++;
  std::size_t digits = 0;
  std::size_t groups = 0;
  for (; from < end && *from != ','; ++from) {
    if (*from == '.') {
      if (digits == 0 || digits > 3 || (groups > 0 && digits != 3)) return false;
      ++groups;
      digits = 0;
    } else if (*from >= '0' && *from <= '9') {
      plain += *from;
      ++digits;
    } else {
      return false;
    }
  }
  if (from == end || groups == 0 || digits != 3) return false;
  plain += '.';
  for (++from; from < end && *from >= '0' && *from <= '9'; ++from) plain += *from;
  if (fast_float::from_chars(plain.data(), plain.data() + plain.size(), value).ec != std::errc()) return false;
  at = from;
  return true;
}

bool parse_number(const char*& at, const char* end, double& value, char decimal) {
  if (at + 1 < end && *at == '+' && at[1] != '-') ++at;
  const fast_float::parse_options options(fast_float::chars_format::general, decimal);
  const auto parsed = fast_float::from_chars_advanced(at, end, value, options);
  if (parsed.ec != std::errc()) return false;
  if (decimal == ',' && parsed.ptr < end && *parsed.ptr == '.') return parse_grouped(at, end, value);
  at = parsed.ptr;
  return true;
}

bool is_blank(char c) {
  return c == ' ' || c == '\t' || c == '\r';
}

/// A date and the time of day behind it.
void join_date_times(std::vector<std::string>& cells) {
  for (std::size_t i = 0; i + 1 < cells.size(); ++i) {
    const auto date = date_time_of(cells[i]);
    if (!date || date->has_time) continue;
    const auto time = date_time_of(cells[i + 1]);
    if (!time || time->has_date) continue;
    cells[i] += ' ' + cells[i + 1];
    cells.erase(cells.begin() + static_cast<std::ptrdiff_t>(i) + 1);
  }
}

std::optional<std::vector<std::string>> split_at_blanks(std::string_view line, Quotes quotes) {
  std::vector<std::string> cells;
  bool quoted = false;
  bool inside = false;
  for (char c : line) {
    if (!quoted && is_blank(c)) {
      inside = false;
      continue;
    }
    if (!inside) cells.emplace_back();
    inside = true;
    if (c == '"') quoted = !quoted;
    if (c != '"' || quotes == Quotes::kept) cells.back() += c;
  }
  if (quoted) return std::nullopt;
  join_date_times(cells);
  return cells;
}

}  // namespace

bool TextPieces::next(TextPiece& piece) {
  piece.bytes.resize(most_bytes + readable_behind);
  std::copy(rest_.begin(), rest_.end(), piece.bytes.begin());
  const std::size_t wanted = most_bytes - rest_.size();
  const std::size_t got = source_.read({piece.bytes.data() + rest_.size(), wanted});
  const std::string_view all(piece.bytes.data(), rest_.size() + got);
  piece.begin_at = 0;
  piece.size = all.size();
  const bool ended = got < wanted;  // a last line without its newline counts as whole
  piece.is_cut = ended && !all.empty() && all.back() != '\n';
  if (!ended) {
    auto last = all.rfind('\n');
    if (last == std::string_view::npos) {
      throw Error(Trouble::recording, "unreadable",
                  fmt::format("{} has a line of more than {} bytes", source_.name(), most_bytes),
                  "write one row of samples a line");
    }
    piece.size = last + 1;
  }
  rest_ = all.substr(piece.size);
  std::fill_n(piece.bytes.begin() + static_cast<std::ptrdiff_t>(piece.size), readable_behind, '\n');
  return piece.size > 0;
}

std::optional<std::vector<std::string>> split_cells(std::string_view line, char separator, Quotes quotes) {
  if (separator == ' ') return split_at_blanks(line, quotes);
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (char c : line) {
    if (c == separator && !quoted) {
      cells.emplace_back();
      continue;
    }
    if (c == '"') quoted = !quoted;
    if (c != '"' || quotes == Quotes::kept) cells.back() += c;
  }
  if (quoted) return std::nullopt;
  for (std::string& cell : cells) cell = std::string(trimmed(cell));
  return cells;
}

std::vector<std::string> with_units_joined(const std::vector<std::string>& words) {
  std::vector<std::string> cells;
  for (const std::string& word : words) {
    const bool unit = !cells.empty() && (word.starts_with('(') || word.starts_with('['));
    if (unit) {
      cells.back() += ' ' + word;
    } else {
      cells.push_back(word);
    }
  }
  return cells;
}

std::vector<std::string> split_at_wide_blanks(std::string_view line) {
  line = trimmed(line);
  std::vector<std::string> cells(1);
  for (std::size_t i = 0; i < line.size(); ++i) {
    const bool wide = line[i] == '\t' || (line[i] == ' ' && i + 1 < line.size() && is_blank(line[i + 1]));
    if (!wide) {
      cells.back() += line[i];
      continue;
    }
    while (i + 1 < line.size() && is_blank(line[i + 1])) ++i;
    cells.emplace_back();
  }
  return cells;
}

std::optional<std::string> cell_of(std::string_view line, char separator, std::size_t column) {
  if (separator == ' ' || line.find('"') != std::string_view::npos) {
    auto cells = split_cells(line, separator);
    if (!cells || cells->size() <= column) return std::nullopt;
    return std::move((*cells)[column]);
  }
  for (; column > 0; --column) {
    const auto end = line.find(separator);
    if (end == std::string_view::npos) return std::nullopt;
    line.remove_prefix(end + 1);
  }
  return std::string(trimmed(line.substr(0, line.find(separator))));
}

bool is_comment(std::string_view line, char separator) {
  line = trimmed(line);
  return line.starts_with('#') || line.starts_with('%') || (line.starts_with(';') && separator != ';');
}

bool is_footer(std::string_view line, char separator) {
  if (is_comment(line, separator)) return true;
  const auto first = line.find_first_not_of(std::string(" \t\r\"") + separator);
  if (first == std::string_view::npos) return true;
  if (line.find(separator) < first && separator != ' ') return false;
  line.remove_prefix(first);
  const std::string_view begin = line.substr(0, 3);
  if (begin == "nan" || begin == "NaN" || begin == "NAN" || begin == "inf" || begin == "Inf" || begin == "INF")
    return false;
  const bool letter = (line[0] | 0x20) >= 'a' && (line[0] | 0x20) <= 'z';
  const bool ruled =
      line.size() > 2 && std::strchr("-=*_~", line[0]) != nullptr && line[1] == line[0] && line[2] == line[0];
  return letter || ruled || (static_cast<unsigned char>(line[0]) & 0x80U) != 0;
}

bool parse_cell(const char*& at, const char* end, double& value, const CsvStyle& style) {
  auto skip_blanks = [&] {
    if (style.separator == ' ') return;
    while (at < end && (*at == ' ' || (*at == '\t' && style.separator != '\t'))) ++at;
  };
  skip_blanks();
  const bool quoted = at < end && *at == '"';
  if (quoted) {
    ++at;
    skip_blanks();
  }
  if (!parse_number(at, end, value, quoted ? style.quoted_decimal : style.decimal)) return false;
  skip_blanks();
  if (!quoted) return true;
  if (at == end || *at++ != '"') return false;
  skip_blanks();
  return true;
}

std::optional<double> cell_number(std::string_view cell, const CsvStyle& style) {
  const char* at = cell.data();
  const char* end = at + cell.size();
  double value = 0.0;
  CsvStyle alone = style;
  alone.separator = '\0';
  if (!parse_cell(at, end, value, alone) || at != end) return std::nullopt;
  return value;
}

}  // namespace counterspot
