#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "counterspot/error.hpp"
#include "counterspot/recording.hpp"
#include "recording/csv_text.hpp"

namespace counterspot {

namespace {

std::optional<std::size_t> find_column(const CsvHead& head, std::string_view wanted) {
  auto same = [&](const ChannelInfo& column) {
    return std::equal(wanted.begin(), wanted.end(), column.name.begin(), column.name.end(),
                      [](char one, char other) { return one == std::tolower(static_cast<unsigned char>(other)); });
  };
  auto found = std::find_if(head.columns.begin(), head.columns.end(), same);
  if (found == head.columns.end()) return std::nullopt;
  return static_cast<std::size_t>(found - head.columns.begin());
}

Error refusal(const std::string& code, const std::string& where, const std::string& what) {
  return {Trouble::recording, code, where + what, "write one edge time in seconds a row, in the order of time"};
}

double time_in(const std::vector<std::string>& cells, std::size_t column, char decimal, const std::string& where) {
  if (column >= cells.size()) throw refusal("ragged_row", where, fmt::format(": column {} is missing", column + 1));
  auto value = cell_number(cells[column], decimal);
  if (!value || !std::isfinite(*value)) {
    throw refusal("bad_number", where, fmt::format(", column {}: '{}' is not a time", column + 1, cells[column]));
  }
  return *value;
}

}  // namespace

std::vector<double> read_times(const std::filesystem::path& path, const std::string& mark) {
  ByteSource source(path);
  TextBlocks text(source);
  text.read_on(nullptr);
  CsvHead head = read_csv_head({text.begin(), text.end()}, source.name());
  auto named = find_column(head, "time_s");
  std::size_t time_column = named ? *named : find_column(head, "time").value_or(0);
  auto mark_column = find_column(head, "mark");
  if (!mark.empty() && !mark_column) {
    throw Error(Trouble::request, "no_such_channel",
                fmt::format("{} has no column 'mark' to look for '{}' in", source.name(), mark),
                "take the mark out of the rig file, or name the column");
  }
  std::vector<double> times;
  std::int64_t line = head.body_line - 1;
  const char* at = text.begin() + std::min<std::ptrdiff_t>(head.body_offset, text.end() - text.begin());
  do {
    while (at < text.end()) {
      const char* line_end = std::find(at, text.end(), '\n');
      std::string_view row(at, static_cast<std::size_t>(line_end - at));
      at = line_end < text.end() ? line_end + 1 : line_end;
      std::string where = fmt::format("{}, line {}", source.name(), ++line);
      if (row.find_first_not_of(" \t\r") == std::string_view::npos || row.starts_with('#')) continue;
      auto cells = split_cells(row, head.style.separator);
      if (!cells) throw refusal("bad_number", where, ": a quote does not close");
      if (!mark.empty() && (*mark_column >= cells->size() || (*cells)[*mark_column] != mark)) continue;
      double time = time_in(*cells, time_column, head.style.decimal, where);
      if (!times.empty() && time <= times.back()) {
        throw refusal("not_increasing", where, fmt::format(": {} s does not come after {} s", time, times.back()));
      }
      times.push_back(time);
    }
  } while (text.read_on(at) && (at = text.begin(), true));
  if (times.empty()) {
    throw refusal("no_data", source.name(),
                  mark.empty() ? " has no times" : fmt::format(" has no row marked '{}'", mark));
  }
  return times;
}

}  // namespace counterspot
