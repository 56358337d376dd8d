#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"
#include "recording/csv_head.hpp"
#include "recording/time_column.hpp"

namespace counterspot {

namespace {

std::optional<std::size_t> mark_column_of(const CsvHead& head) {
  for (std::size_t i = 0; i < head.columns.size(); ++i) {
    const std::string& name = head.columns[i].name;
    if (name == "mark" || name == "Mark" || name == "MARK") return i;
  }
  return std::nullopt;
}

/// Takes the times out of the rows of a table.
class TimesTable {
 public:
  TimesTable(std::string name, const CsvHead& head, std::string mark)
      : name_(std::move(name)), mark_(std::move(mark)), style_(head.style) {
    const auto named = find_time_column(head.columns, head.style.date_times, name_, {});
    time_column_ = named ? named->index : 0;
    if (named && !named->is_date_time) seconds_per_unit_ = named->seconds_per_unit;
    auto marks = mark_column_of(head);
    mark_column_ = marks.value_or(0);
    if (!mark_.empty() && !marks) {
      throw Error(Trouble::request, "no_such_channel",
                  fmt::format("{} has no column 'mark' to look for '{}' in", name_, mark_),
                  "take the mark out of the rig file, or name the column");
    }
  }

  void take(std::string_view row, std::int64_t line) {
    if (row.find_first_not_of(" \t\r") == std::string_view::npos || is_comment(row, style_.separator)) return;
    std::string where = fmt::format("{}, line {}", name_, line);
    auto cells = split_cells(row, style_.separator);
    if (!cells) throw refusal("bad_number", where + ": a quote does not close");
    if (!mark_.empty() && (mark_column_ >= cells->size() || (*cells)[mark_column_] != mark_)) return;
    if (time_column_ >= cells->size()) {
      throw refusal("ragged_row", fmt::format("{}: column {} is missing", where, time_column_ + 1));
    }
    auto time = cell_number((*cells)[time_column_], style_);
    if (!time || !std::isfinite(*time)) {
      throw refusal("bad_number", fmt::format("{}, column {} holds '{}', which is not a time", where, time_column_ + 1,
                                              (*cells)[time_column_]));
    }
    *time *= seconds_per_unit_;
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
  CsvStyle style_;
  double seconds_per_unit_ = 1.0;
  std::size_t time_column_ = 0;
  std::size_t mark_column_ = 0;
  std::vector<double> times_;
};

}  // namespace

std::vector<double> read_times(const std::filesystem::path& path, const std::string& mark) {
  TextSource source(ByteSource(path), "");
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
