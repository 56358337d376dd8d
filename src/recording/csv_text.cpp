#include "recording/csv_text.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <cstring>

#include "units/text.hpp"

namespace counterspot {

namespace {

constexpr std::size_t readable_behind = 16;  // behind the text of a piece

/// Lines of a text, with their numbers; comments and empty lines passed over.
class Lines {
 public:
  explicit Lines(std::string_view text) : text_(text) {}

  std::optional<std::string_view> next() {
    while (offset_ < text_.size()) {
      line_offset_ = offset_;
      ++line_;
      auto end = std::min(text_.find('\n', offset_), text_.size());
      std::string_view line = trimmed(text_.substr(offset_, end - offset_));
      offset_ = end + 1;
      if (!line.empty() && !line.starts_with('#')) return text_.substr(line_offset_, end - line_offset_);
    }
    return std::nullopt;
  }
  std::size_t line_offset() const { return line_offset_; }
  std::int64_t line() const { return line_; }

 private:
  std::string_view text_;
  std::size_t offset_ = 0;
  std::size_t line_offset_ = 0;
  std::int64_t line_ = 0;
};

/// Tab before semicolon before comma: the rarer sign in other roles comes first. Quoted signs do not count.
char find_separator(std::string_view line) {
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

/// A comma inside the rows of a table whose cells are parted by something else is a decimal comma.
char find_decimal(std::string_view rows, char separator) {
  if (separator == ',') return '.';
  Lines lines(rows);
  while (auto line = lines.next()) {
    if (line->find(',') != std::string_view::npos) return ',';
  }
  return '.';
}

void refuse_other_than_text(std::string_view text, const std::string& name) {
  if (text.empty()) {
    throw Error(Trouble::recording, "no_data", fmt::format("{} is empty", name),
                "record the spin again, and stop the recorder before taking the file off it");
  }
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    throw Error(Trouble::recording, "unreadable", fmt::format("{} is a text in UTF-16", name),
                "save it as CSV in UTF-8");
  }
  auto strange = [](char c) { return static_cast<unsigned char>(c) < 32 && std::strchr("\t\n\v\f\r", c) == nullptr; };
  std::string_view start = text.substr(0, 4096);
  if (start.find('\0') != std::string_view::npos || std::any_of(start.begin(), start.end(), strange)) {
    throw Error(Trouble::recording, "unreadable",
                fmt::format("{} is neither a WAV, RF64, W64, AIFF or FLAC file nor a table of numbers", name),
                "give a recording in one of these formats, or a CSV file");
  }
}

std::vector<ChannelInfo> name_columns(const std::vector<std::string>& cells, const std::string& name,
                                      std::int64_t line) {
  std::vector<ChannelInfo> columns;
  for (const std::string& cell : cells) {
    ChannelInfo column = split_header(cell);
    auto same = [&](const ChannelInfo& other) { return other.name == column.name; };
    if (column.name.empty()) {
      throw Error(Trouble::recording, "bad_header",
                  fmt::format("{}, line {}: column {} has no name", name, line, columns.size() + 1),
                  "give every column a name, and take out a separator that stands twice or at the end");
    }
    if (std::any_of(columns.begin(), columns.end(), same)) {
      throw Error(Trouble::recording, "bad_header",
                  fmt::format("{}, line {}: two columns are named '{}'", name, line, column.name),
                  "give every column a name of its own");
    }
    columns.push_back(std::move(column));
  }
  return columns;
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

std::optional<std::vector<std::string>> split_cells(std::string_view line, char separator) {
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (char c : line) {
    if (c == '"') {
      quoted = !quoted;
    } else if (c == separator && !quoted) {
      cells.emplace_back();
    } else {
      cells.back() += c;
    }
  }
  if (quoted) return std::nullopt;
  for (std::string& cell : cells) cell = std::string(trimmed(cell));
  return cells;
}

std::string cell_of(std::string_view line, char separator, std::size_t column) {
  if (line.find('"') != std::string_view::npos) return (*split_cells(line, separator))[column];
  for (; column > 0; --column) line.remove_prefix(line.find(separator) + 1);
  return std::string(trimmed(line.substr(0, line.find(separator))));
}

ChannelInfo split_header(const std::string& cell) {
  for (const char* brackets : {"()", "[]"}) {
    auto open = cell.rfind(brackets[0]);
    if (open == std::string::npos || cell.back() != brackets[1]) continue;
    if (brackets[0] == '(') {  // "accel (V/(m/s2))": the bracket that matches the last one
      int depth = 0;
      for (open = cell.size(); open-- > 0;) {
        depth += cell[open] == ')' ? 1 : cell[open] == '(' ? -1 : 0;
        if (depth == 0) break;
      }
      if (depth != 0) continue;
    }
    std::string_view text(cell);
    return {std::string(trimmed(text.substr(0, open))),
            std::string(trimmed(text.substr(open + 1, cell.size() - open - 2)))};
  }
  return {cell, ""};
}

bool parse_cell(const char*& at, const char* end, double& value, const CsvStyle& style) {
  auto skip_spaces = [&] {
    while (at < end && (*at == ' ' || (*at == '\t' && style.separator != '\t'))) ++at;
  };
  const fast_float::parse_options options(fast_float::chars_format::general, style.decimal);
  auto parsed = fast_float::from_chars_advanced(at, end, value, options);
  if (parsed.ec == std::errc()) {
    at = parsed.ptr;
    skip_spaces();
    return true;
  }
  skip_spaces();
  bool quoted = at < end && *at == '"';
  if (quoted) ++at;
  skip_spaces();
  if (at + 1 < end && *at == '+' && at[1] != '-') ++at;
  parsed = fast_float::from_chars_advanced(at, end, value, options);
  if (parsed.ec != std::errc()) return false;
  at = parsed.ptr;
  skip_spaces();
  if (quoted && (at == end || *at++ != '"')) return false;
  skip_spaces();
  return true;
}

std::optional<double> cell_number(std::string_view cell, char decimal) {
  const char* at = cell.data();
  const char* end = at + cell.size();
  double value = 0.0;
  if (!parse_cell(at, end, value, {'\0', decimal}) || at != end) return std::nullopt;
  return value;
}

CsvHead read_csv_head(std::string_view text, const std::string& name) {
  refuse_other_than_text(text, name);
  std::size_t mark = text.starts_with("\xEF\xBB\xBF") ? 3 : 0;  // byte order mark
  Lines lines(text.substr(mark));
  auto first = lines.next();
  if (!first) {
    throw Error(Trouble::recording, "no_data", fmt::format("{} has no rows", name),
                "record the spin again, and stop the recorder before taking the file off it");
  }
  CsvHead head;
  head.style.separator = find_separator(*first);
  head.body_offset = mark + lines.line_offset();
  head.body_line = lines.line();
  auto cells = split_cells(*first, head.style.separator);
  if (!cells) {
    throw Error(Trouble::recording, "bad_header",
                fmt::format("{}, line {}: a quote does not close", name, head.body_line),
                "close the quote, or take it out");
  }
  head.style.decimal = find_decimal(text.substr(head.body_offset + first->size()), head.style.separator);
  auto is_number = [&](const std::string& cell) {
    return cell_number(cell, head.style.decimal).has_value() || cell_number(cell, ',').has_value();
  };
  if (std::all_of(cells->begin(), cells->end(), is_number)) {
    for (std::size_t i = 1; i <= cells->size(); ++i) head.columns.push_back({std::to_string(i), ""});
    head.style.decimal = find_decimal(text.substr(head.body_offset), head.style.separator);
    return head;
  }
  head.columns = name_columns(*cells, name, head.body_line);
  head.body_offset += first->size() + 1;
  head.body_line += 1;
  return head;
}

}  // namespace counterspot
