#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/recording/recording.hpp"
#include "counterspot/units/error.hpp"
#include "recording/arrays/array_formats.hpp"
#include "recording/column_units.hpp"
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

Error refusal(const std::string& code, const std::string& sentence) {
  return {Trouble::recording, code, sentence, "write one edge time in seconds a row, in the order of time"};
}

Error no_marks(const std::string& name, const std::string& mark) {
  return {Trouble::request, "no_such_channel", fmt::format("{} has no column 'mark' to look for '{}' in", name, mark),
          "take the mark out of the rig file, or name the column"};
}

void add_time(std::vector<double>& times, double time_s, const std::string& where) {
  if (!times.empty() && time_s <= times.back())
    throw refusal("not_increasing", fmt::format("{}: {} s does not come after {} s", where, time_s, times.back()));
  times.push_back(time_s);
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
    if (!mark_.empty() && !marks) throw no_marks(name_, mark_);
  }

  void read_row(std::string_view row, std::int64_t line) {
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
    add_time(times_, *time * seconds_per_unit_, where);
  }

  std::vector<double> times() && {
    if (times_.empty()) {
      throw refusal("no_data",
                    mark_.empty() ? name_ + " has no times" : fmt::format("{} has no row marked '{}'", name_, mark_));
    }
    return std::move(times_);
  }

 private:
  std::string name_;
  std::string mark_;
  CsvStyle style_;
  double seconds_per_unit_ = 1.0;
  std::size_t time_column_ = 0;
  std::size_t mark_column_ = 0;
  std::vector<double> times_;
};

/// How many values an array of one axis has; those of length one do not count. Empty for others.
std::optional<std::size_t> length_of(const ArrayInfo& array) {
  std::size_t values = 1;
  std::size_t axes = 0;
  for (const std::size_t length : array.shape) {
    values *= length;
    axes += length == 1 ? 0 : 1;
  }
  return axes > 1 ? std::nullopt : std::optional(values);
}

/// Takes the times out of a file that holds one array of them, in s where it states no other unit.
std::vector<double> times_in_array(ByteSource source, ArrayFormat format, const std::string& mark) {
  constexpr std::size_t most_at_once = 65536;
  const std::string name = source.name();
  if (!mark.empty()) throw no_marks(name, mark);
  const auto file = open_array_file(source, format);
  const auto length = file->arrays().size() == 1 ? length_of(file->arrays()[0]) : std::nullopt;
  if (!length) {
    throw Error(Trouble::recording, "no_data",
                fmt::format("{} holds no single array of one axis, as edge times are", name),
                "save the times of the edges alone, in s, as one array of one axis");
  }
  std::vector<ChannelInfo> column = split_headers({file->arrays()[0].name});
  if (!file->arrays()[0].unit.empty()) column[0].unit = file->arrays()[0].unit;
  const auto named = find_time_column(column, {}, name, {});
  std::vector<double> times;
  for (std::size_t first = 0; first < *length;) {
    std::vector<double> values(std::min(most_at_once, *length - first));
    file->read(0, first, values);
    for (const double value : values) {
      const std::string where = fmt::format("{}, value {}", name, ++first);
      if (!std::isfinite(value)) throw refusal("bad_number", fmt::format("{} is no time", where));
      add_time(times, value * (named ? named->seconds_per_unit : 1.0), where);
    }
  }
  if (times.empty()) throw refusal("no_data", name + " has no times");
  return times;
}

}  // namespace

std::vector<double> read_times(const std::filesystem::path& path, const std::string& mark) {
  ByteSource bytes(path);
  const ArrayFormat arrays = array_format(bytes.head());
  if (arrays != ArrayFormat::none) return times_in_array(std::move(bytes), arrays, mark);
  TextSource source(std::move(bytes), "");
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
      table.read_row({at, static_cast<std::size_t>(line_end - at)}, line++);
      at = std::min(line_end + 1, piece.end());
    }
  }
  return std::move(table).times();
}

}  // namespace counterspot
