#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"
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

/// Takes the times out of the rows of a table.
class TimesTable {
 public:
  TimesTable(std::string name, const CsvHead& head, std::string mark)
      : name_(std::move(name)), mark_(std::move(mark)), separator_(head.style.separator), decimal_(head.style.decimal) {
    auto named = find_column(head, "time_s");
    time_column_ = named ? *named : find_column(head, "time").value_or(0);
    auto marks = find_column(head, "mark");
    mark_column_ = marks.value_or(0);
    if (!mark_.empty() && !marks) {
      throw Error(Trouble::request, "no_such_channel",
                  fmt::format("{} has no column 'mark' to look for '{}' in", name_, mark_),
                  "take the mark out of the rig file, or name the column");
    }
  }

  void take(std::string_view row, std::int64_t line) {
    if (row.find_first_not_of(" \t\r") == std::string_view::npos || row.starts_with('#')) return;
    std::string where = fmt::format("{}, line {}", name_, line);
    auto cells = split_cells(row, separator_);
    if (!cells) throw refusal("bad_number", where + ": a quote does not close");
    if (!mark_.empty() && (mark_column_ >= cells->size() || (*cells)[mark_column_] != mark_)) return;
    if (time_column_ >= cells->size()) {
      throw refusal("ragged_row", fmt::format("{}: column {} is missing", where, time_column_ + 1));
    }
    auto time = cell_number((*cells)[time_column_], decimal_);
    if (!time || !std::isfinite(*time)) {
      throw refusal("bad_number", fmt::format("{}, column {} holds '{}', which is not a time", where, time_column_ + 1,
                                              (*cells)[time_column_]));
    }
    if (!times_.empty() && *time <= times_.back()) {
      throw refusal("not_increasing", fmt::format("{}: {} s does not come after {} s", where, *time, times_.back()));
    }
    times_.push_back(*time);
  }

  std::vector<double> times() && {
    if (times_.empty()) {
      throw refusal("no_data",
                    mark_.empty() ? name_ + " has no times" : fmt::format("{} has no row marked '{}'", name_, mark_));
    }
    return std::move(times_);
  }

 private:
  static Error refusal(const std::string& code, const std::string& sentence) {
    return {Trouble::recording, code, sentence, "write one edge time in seconds a row, in the order of time"};
  }

  std::string name_;
  std::string mark_;
  char separator_;
  char decimal_;
  std::size_t time_column_ = 0;
  std::size_t mark_column_ = 0;
  std::vector<double> times_;
};

}  // namespace

std::vector<double> read_times(const std::filesystem::path& path, const std::string& mark) {
  ByteSource source(path);
  TextPieces text(source);
  TextPiece piece;
  bool more = text.next(piece);
  CsvHead head = read_csv_head({piece.begin(), piece.end()}, source.name());
  piece.begin_at = std::min(head.body_offset, piece.size);
  TimesTable table(source.name(), head, mark);
  std::int64_t line = head.body_line;
  for (; more; more = text.next(piece)) {
    for (const char* at = piece.begin(); at < piece.end();) {
      const char* line_end = std::find(at, piece.end(), '\n');
      table.take({at, static_cast<std::size_t>(line_end - at)}, line++);
      at = std::min(line_end + 1, piece.end());
    }
  }
  return std::move(table).times();
}

}  // namespace counterspot
