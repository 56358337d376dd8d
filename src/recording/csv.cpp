#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <future>
#include <limits>
#include <memory>

#include "counterspot/units/error.hpp"
#include "recording/columns_taken.hpp"
#include "recording/csv_rows.hpp"
#include "recording/csv_taken.hpp"
#include "recording/even_time.hpp"
#include "recording/readers.hpp"
#include "recording/task_threads.hpp"
#include "recording/time_column.hpp"

namespace counterspot {

namespace {

constexpr std::size_t rows_for_rate = 4096;
constexpr std::size_t rows_for_place = 64;
constexpr std::size_t pieces_ahead = 4;

/// A piece of the table, and its numbers, in memory that is not cleared first: clearing and growing it took a third of
/// the whole. A parser does not know its line in the file; a row that it refuses is parsed again when its turn comes.
struct Piece {
  TextPiece text;
  std::unique_ptr<double[]> values;  ///< row by row; has room for all that the text can hold
  std::size_t rows = 0;              ///< read without trouble
  std::int64_t lines = 0;            ///< gone through
  bool cut = false;                  ///< half a row at the end, which a recorder that was switched off leaves
  bool refused = false;              ///< the row after the last one cannot be read
  std::future<void> parsed;
};

/// Fills in all of a piece but its text. What is wrong with a row is only said later, by one who knows its line.
void parse(Piece& piece, RowParser parser, std::size_t columns) {
  piece.rows = 0;
  piece.cut = piece.refused = false;
  parser.set_text(piece.text, 0);
  // A number and the sign behind it take two bytes at least. Memory that is not written to costs nothing.
  if (!piece.values) piece.values = std::make_unique_for_overwrite<double[]>(TextPieces::most_bytes / 2 + columns);
  try {
    while (parser.next(&piece.values[piece.rows * columns])) ++piece.rows;
  } catch (const Error&) {
    piece.cut = piece.text.is_cut && parser.row_is_cut();
    piece.refused = !piece.cut;
  }
  piece.lines = parser.line();
}

/// Reads the text in pieces, which are parsed on other threads while earlier ones are used, and gives their rows
/// in order. Without reading ahead a piece is parsed when its turn comes.
class CsvRecording final : public Recording {
 public:
  CsvRecording(ByteSource source, const RecordingOptions& options);

  const RecordingInfo& info() const override { return info_; }
  std::size_t read(std::span<double> interleaved) override;
  std::span<const double> next(std::size_t most_frames) override;
  Warnings warnings() const override;

  bool wavers() const { return even_time_ && even_time_->wavers(); }
  const TimeColumn& time_column() const { return *time_; }
  const EvenTime& even_time() const { return *even_time_; }

 private:
  struct FirstRows {
    std::vector<TimeOfRow> times;
    double rounding_s = 0.0;
    std::size_t rows = 0;
  };
  CsvHead read_head(const StatedFormat& stated);
  void describe();
  FirstRows read_first_rows(RowParser parser);
  void read_rate(const FirstRows& first, const RecordingOptions& options);
  void start_parsing(Piece& piece);
  void read_on();
  bool next_piece();
  bool only_footer_follows();
  std::size_t even_rows(const Piece& piece);
  double place_of_times(std::string_view rows) const;
  double rounding_s(const TextPiece& text) const;
  [[noreturn]] void refuse_row(std::size_t row);
  Piece& piece(std::size_t number) { return ring_[number % ring_.size()]; }

  TextSource source_;
  TextPieces text_{source_};
  std::array<Piece, pieces_ahead> ring_;
  CsvHead head_;
  RowParser rows_;
  RecordingInfo info_;
  std::optional<TimeColumn> time_;
  std::optional<EvenTime> even_time_;
  std::size_t read_ = 0;       ///< pieces whose text was read
  std::size_t used_ = 0;       ///< pieces whose rows are all given out
  bool holding_ = false;       ///< rows are given out from piece `used_`
  std::size_t row_ = 0;        ///< of it, the next to give out
  double row_time_s_ = 0.0;    ///< of the last one found even
  std::size_t good_rows_ = 0;  ///< of it, read and even in time
  std::int64_t lines_before_;  ///< the piece in the file
  bool text_ended_ = false;
  bool cut_ = false;
  bool footer_ = false;                 ///< begins where the next row would stand
  std::optional<TaskThreads> threads_;  // last: end before what they fill
};

CsvRecording::CsvRecording(ByteSource source, const RecordingOptions& options)
    : source_(std::move(source), options.format.encoding),
      head_(read_head(options.format)),
      rows_(source_.name(), head_),
      time_(find_time_column(head_.columns, head_.style.date_times, source_.name(), options.format)),
      lines_before_(head_.body_line - 1) {
  if (options.read_ahead)
    threads_.emplace(std::clamp<std::size_t>(std::thread::hardware_concurrency(), 1, pieces_ahead));
  info_.name = source_.name();
  info_.format = fmt::format("CSV, {} separated, decimal {}", separator_name(head_.style),
                             head_.style.quoted_decimal == ',' ? "comma" : "point");
  info_.channels = head_.columns;
  if (time_) info_.time_channel = static_cast<int>(time_->index);
  start_parsing(piece(read_++));
  read_rate(read_first_rows(rows_), options);
  describe();
}

CsvHead CsvRecording::read_head(const StatedFormat& stated) {
  TextPiece& first = piece(0).text;
  text_.next(first);
  CsvHead head = read_csv_head({first.begin(), first.end()}, source_.name(), stated);
  first.begin_at = std::min(head.body_offset, first.size);
  return head;
}

void CsvRecording::describe() {
  info_.taken = what_is_taken(head_, source_.encoding(), time_);
  if (time_) info_.channels[time_->index].unit = time_->unit;
}

/// Looks at the first rows without using them up. A bad row among them is left for `read` to find, unless it is the
/// first.
CsvRecording::FirstRows CsvRecording::read_first_rows(RowParser parser) {
  FirstRows first;
  parser.set_text(piece(0).text, lines_before_);
  std::vector<double> values(info_.channels.size());
  std::vector<double> times;
  std::vector<std::int64_t> lines;
  try {
    for (; first.rows < rows_for_rate && parser.next(values.data()); ++first.rows) {
      if (!time_) continue;
      times.push_back(values[time_->index]);
      lines.push_back(parser.line());
    }
  } catch (const Error&) {
    if (first.rows == 0) throw;
  }
  if (!time_ || times.empty()) return first;
  guess_unit(*time_, times);
  first.rounding_s = rounding_s(piece(0).text);
  for (std::size_t i = 0; i < times.size(); ++i)
    first.times.push_back({time_->seconds(times[i], i == 0 ? times[0] : first.times.back().time_s), lines[i]});
  row_time_s_ = times[0] * time_->seconds_per_unit;
  return first;
}

void CsvRecording::read_rate(const FirstRows& first, const RecordingOptions& options) {
  if (first.rows == 0) {
    throw Error(Trouble::recording, "no_data", fmt::format("{} names columns and has no rows", info_.name),
                "record the spin again, and stop the recorder before taking the file off it");
  }
  if (!time_) {
    info_.sample_rate_Hz = rate_without_times(info_, options);
    info_.rate_is_stated = true;
    return;
  }
  if (first.rows == 1) {
    throw Error(Trouble::recording, "no_sample_rate",
                fmt::format("{} has a single row, which gives no rate", info_.name), "record the spin again");
  }
  even_time_.emplace(info_.name, first.times, first.rounding_s);
  info_.sample_rate_Hz = 1.0 / even_time_->interval_s();
  info_.start_time_s = even_time_->start_time_s();
}

void CsvRecording::start_parsing(Piece& piece) {
  auto task = [&piece, parser = rows_, columns = info_.channels.size()] { parse(piece, parser, columns); };
  piece.parsed = threads_ ? threads_->begin(task) : std::async(std::launch::deferred, task);
}

/// Reads text as far ahead as there is room. What goes wrong there is said when the rows before it are given out.
void CsvRecording::read_on() {
  while (!text_ended_ && read_ < used_ + ring_.size()) {
    Piece& free = piece(read_);
    try {
      text_ended_ = !text_.next(free.text);
      if (!text_ended_) start_parsing(free);
    } catch (const Error&) {
      std::promise<void> trouble;
      trouble.set_exception(std::current_exception());
      free.parsed = trouble.get_future();
      text_ended_ = true;
    }
    read_ += free.parsed.valid() ? 1 : 0;
  }
}

/// Goes over to the piece that has the next row; false at the end.
bool CsvRecording::next_piece() {
  while (!holding_ || row_ == good_rows_) {
    if (holding_) {
      Piece& done = piece(used_);
      const bool bad_row = done.refused && good_rows_ == done.rows;
      if (footer_ || (bad_row && only_footer_follows())) {
        footer_ = true;
        return false;
      }
      if (done.refused || good_rows_ < done.rows) refuse_row(good_rows_);
      if (done.cut) return false;
      lines_before_ += done.lines;
      holding_ = false;
      ++used_;
    }
    read_on();
    if (used_ == read_) return false;
    piece(used_).parsed.get();
    holding_ = true;
    row_ = 0;
    if (even_time_) even_time_->round_to(rounding_s(piece(used_).text));
    good_rows_ = even_rows(piece(used_));
    cut_ = piece(used_).cut;
  }
  return true;
}

/// How many rows of a piece come at even times.
std::size_t CsvRecording::even_rows(const Piece& piece) {
  if (!even_time_) return piece.rows;
  const std::size_t columns = info_.channels.size();
  const double* time = piece.values.get() + time_->index;
  for (std::size_t row = 0; row < piece.rows; ++row) {
    const double time_s = time_->seconds(time[row * columns], row_time_s_);
    if (!even_time_->accept(time_s)) return row;
    row_time_s_ = time_s;
  }
  return piece.rows;
}

/// What one unit in the last place of the times in a text is, in their unit. Where zeros at the end are left out,
/// single rows have fewer places than the others.
double CsvRecording::place_of_times(std::string_view rows) const {
  double place = std::numeric_limits<double>::infinity();
  for (std::size_t begin = 0, n = 0; begin < rows.size() && n < rows_for_place; ++n) {
    const auto end = std::min(rows.find('\n', begin), rows.size());
    const auto cell = cell_of(rows.substr(begin, end - begin), head_.style.separator, time_->index);
    begin = end + 1;
    if (!cell || cell->empty() || !is_digit(cell->back())) continue;
    place = std::min(place, time_->is_date_time ? last_place_of_date_time(*cell) : last_place(*cell));
  }
  return place == std::numeric_limits<double>::infinity() ? 0.0 : place;
}

/// The coarser of what the times at the beginning and at the end of a piece are rounded to.
double CsvRecording::rounding_s(const TextPiece& text) const {
  const std::string_view rows(text.begin(), static_cast<std::size_t>(text.end() - text.begin()));
  std::size_t last_rows = rows.size();
  for (std::size_t n = 0; n <= rows_for_place && last_rows != 0 && last_rows != rows.npos; ++n)
    last_rows = rows.rfind('\n', last_rows - 1);
  const std::string_view last = last_rows == rows.npos ? rows : rows.substr(last_rows);
  const double place = std::max(place_of_times(rows), place_of_times(last));
  return time_->is_date_time ? place : place * time_->seconds_per_unit;
}

/// Goes through the piece again, now with the numbers of the lines, up to the row that has to be refused.
void CsvRecording::refuse_row(std::size_t row) {
  std::vector<double> values(info_.channels.size());
  rows_.set_text(piece(used_).text, lines_before_);
  for (std::size_t n = 0; n <= row; ++n) rows_.next(values.data());
  even_time_->refuse({time_->seconds(values[time_->index], row_time_s_), rows_.line()});
}

/// Whether nothing stands from the row on that cannot be read but what recorders write below their rows.
bool CsvRecording::only_footer_follows() {
  constexpr std::int64_t most_lines = 100;
  rows_.set_text(piece(used_).text, lines_before_);
  std::vector<double> values(info_.channels.size());
  for (std::size_t n = 0; n < good_rows_; ++n) rows_.next(values.data());
  const char* at = rows_.at();
  std::int64_t line = rows_.line();
  const std::int64_t first = line + 1;
  read_on();
  for (std::size_t number = used_; number < read_; ++number) {
    const TextPiece& text = piece(number).text;
    for (at = number == used_ ? at : text.begin(); at < text.end(); ++line) {
      const char* end = std::find(at, text.end(), '\n');
      const std::string_view row(at, static_cast<std::size_t>(end - at));
      if (!is_footer(row, head_.style.separator) || line - first > most_lines) return false;
      at = end + (end < text.end() ? 1 : 0);
    }
  }
  if (!text_ended_) return false;
  info_.taken.push_back({"footer", first == line ? fmt::format("line {}, left out", line)
                                                 : fmt::format("lines {} to {}, left out", first, line)});
  return true;
}

std::span<const double> CsvRecording::next(std::size_t most_frames) {
  if (!next_piece()) return {};
  const std::size_t columns = info_.channels.size();
  const std::size_t frames = std::min(most_frames, good_rows_ - row_);
  const std::span<const double> part(piece(used_).values.get() + row_ * columns, frames * columns);
  row_ += frames;
  return part;
}

std::size_t CsvRecording::read(std::span<double> interleaved) {
  const std::size_t columns = info_.channels.size();
  const std::size_t frames = interleaved.size() / columns;
  std::size_t done = 0;
  while (done < frames) {
    const auto part = next(frames - done);
    if (part.empty()) break;
    std::copy(part.begin(), part.end(), interleaved.begin() + static_cast<std::ptrdiff_t>(done * columns));
    done += part.size() / columns;
  }
  return done;
}

Warnings CsvRecording::warnings() const {
  Warnings warnings;
  if (cut_) {
    warnings.push_back(
        {WarningCode::short_data, std::nullopt, fmt::format("{} ends within a row; the row is left out", info_.name)});
  }
  if (even_time_) {
    for (const Warning& warning : even_time_->warnings()) warnings.push_back(warning);
  }
  return warnings;
}

}  // namespace

std::unique_ptr<Recording> open_csv(ByteSource source, const RecordingOptions& options) {
  auto table = std::make_unique<CsvRecording>(std::move(source), options);
  if (!table->wavers()) return table;
  const TimeColumn time = table->time_column();
  const EvenTime even = table->even_time();
  return at_even_times(std::move(table), time, even);
}

}  // namespace counterspot
