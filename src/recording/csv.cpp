#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "counterspot/error.hpp"
#include "counterspot/units.hpp"
#include "recording/csv_rows.hpp"
#include "recording/even_time.hpp"
#include "recording/readers.hpp"

namespace counterspot {

namespace {

constexpr std::size_t rows_for_rate = 4096;
constexpr double departure_worth_a_warning = 0.1;  // of the tolerance

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::tolower(c); });
  return text;
}

/// Seconds in one unit of time; empty if it is none.
std::optional<double> seconds_per(const std::string& unit) {
  try {
    return parse_quantity(fmt::format("1 {}", unit), Dimension::time);
  } catch (const Error&) {
    return std::nullopt;
  }
}

std::optional<int> find_time_column(const std::vector<ChannelInfo>& columns) {
  auto named_time = [](const ChannelInfo& column) {
    std::string name = lower(column.name);
    return name == "time" || name == "time_s" || name == "t";
  };
  auto timed = [](const ChannelInfo& column) { return !column.unit.empty() && seconds_per(column.unit).has_value(); };
  auto found = std::find_if(columns.begin(), columns.end(), named_time);
  if (found == columns.end()) found = std::find_if(columns.begin(), columns.end(), timed);
  if (found == columns.end()) return std::nullopt;
  return static_cast<int>(found - columns.begin());
}

class CsvRecording final : public Recording {
 public:
  CsvRecording(ByteSource source, const RecordingOptions& options);

  const RecordingInfo& info() const override { return info_; }
  std::size_t read(std::span<double> interleaved) override;
  Warnings warnings() const override;

 private:
  struct FirstRows {
    std::vector<TimeOfRow> times;
    double last_place_s = 1e-300;
    std::size_t rows = 0;
  };
  CsvHead read_head();
  void find_time_scale();
  FirstRows read_first_rows(RowParser parser) const;
  void take_rate(const FirstRows& first, const RecordingOptions& options);
  bool next_row(double* values);

  ByteSource source_;
  TextBlocks text_{source_};
  CsvHead head_;
  RowParser rows_;
  RecordingInfo info_;
  double seconds_per_time_unit_ = 1.0;
  double time_tolerance_;
  std::optional<EvenTime> even_time_;
  bool cut_ = false;
};

CsvRecording::CsvRecording(ByteSource source, const RecordingOptions& options)
    : source_(std::move(source)),
      head_(read_head()),
      rows_(source_.name(), head_),
      time_tolerance_(options.time_tolerance) {
  info_.name = source_.name();
  std::string separator = head_.style.separator == '\t' ? "tab" : fmt::format("'{}'", head_.style.separator);
  info_.format =
      fmt::format("CSV, {} separated, decimal {}", separator, head_.style.decimal == ',' ? "comma" : "point");
  info_.channels = head_.columns;
  info_.time_channel = find_time_column(head_.columns);
  find_time_scale();
  rows_.set_text(text_.begin() + head_.body_offset, text_.end());
  take_rate(read_first_rows(rows_), options);
}

CsvHead CsvRecording::read_head() {
  text_.read_on(nullptr);
  CsvHead head = read_csv_head({text_.begin(), text_.end()}, source_.name());
  head.body_offset = std::min(head.body_offset, static_cast<std::size_t>(text_.end() - text_.begin()));
  return head;
}

void CsvRecording::find_time_scale() {
  if (!info_.time_channel) return;
  ChannelInfo& column = info_.channels[static_cast<std::size_t>(*info_.time_channel)];
  if (column.unit.empty()) column.unit = std::string("s");
  auto scale = seconds_per(column.unit);
  if (!scale) {
    throw Error(Trouble::recording, "bad_header",
                fmt::format("{}: column '{}' has the unit '{}', which is not one of time", info_.name, column.name,
                            column.unit),
                "name the time column with its unit, as in \"time (s)\"");
  }
  seconds_per_time_unit_ = *scale;
}

/// Looks at the first rows without using them up. A bad row among them is left for `read` to find, unless it is the
/// first.
CsvRecording::FirstRows CsvRecording::read_first_rows(RowParser parser) const {
  FirstRows first;
  std::vector<double> values(info_.channels.size());
  try {
    for (; first.rows < rows_for_rate && parser.next(values.data()); ++first.rows) {
      if (!info_.time_channel) continue;
      auto column = static_cast<std::size_t>(*info_.time_channel);
      first.times.push_back({values[column] * seconds_per_time_unit_, parser.line()});
      auto cells = split_cells({parser.row_begin(), parser.at()}, head_.style.separator);
      double place = last_place((*cells)[column], head_.style.decimal) * seconds_per_time_unit_;
      first.last_place_s = first.rows == 0 ? place : std::min(first.last_place_s, place);
    }
  } catch (const Error&) {
    if (first.rows == 0) throw;
  }
  return first;
}

void CsvRecording::take_rate(const FirstRows& first, const RecordingOptions& options) {
  if (first.rows == 0) {
    throw Error(Trouble::recording, "no_data", fmt::format("{} names columns and has no rows", info_.name),
                "record the spin again, and stop the recorder before taking the file off it");
  }
  if (!info_.time_channel) {
    if (!options.sample_rate_Hz) {
      throw Error(Trouble::recording, "no_sample_rate", fmt::format("{} has no time column", info_.name),
                  "name the column of times \"time (s)\", or give the rate: sample_rate = \"51.2 kHz\" under [rig]");
    }
    if (!(*options.sample_rate_Hz > 0.0) || !std::isfinite(*options.sample_rate_Hz)) {
      throw Error(Trouble::request, "bad_sample_rate",
                  fmt::format("{} Hz is not a sample rate", *options.sample_rate_Hz),
                  "give a rate of more than zero, such as \"51.2 kHz\"");
    }
    info_.sample_rate_Hz = *options.sample_rate_Hz;
    return;
  }
  if (first.rows == 1) {
    throw Error(Trouble::recording, "no_sample_rate",
                fmt::format("{} has a single row, which gives no rate", info_.name), "record the spin again");
  }
  even_time_.emplace(info_.name, first.times, first.last_place_s, time_tolerance_);
  info_.sample_rate_Hz = 1.0 / even_time_->interval_s();
  info_.start_time_s = first.times[0].time_s;
}

bool CsvRecording::next_row(double* values) {
  try {
    while (!rows_.next(values)) {
      bool more = text_.read_on(rows_.at());
      rows_.set_text(text_.begin(), text_.end());
      if (!more) return false;
    }
  } catch (const Error&) {
    // A recorder that was switched off leaves half a row at the end.
    if (!text_.last_line_is_cut() || !rows_.row_is_cut()) throw;
    cut_ = true;
    return false;
  }
  if (even_time_) {
    even_time_->check({values[*info_.time_channel] * seconds_per_time_unit_, rows_.line()});
  }
  return true;
}

std::size_t CsvRecording::read(std::span<double> interleaved) {
  std::size_t columns = info_.channels.size();
  std::size_t frames = interleaved.size() / columns;
  std::size_t done = 0;
  while (done < frames && !cut_ && next_row(interleaved.data() + done * columns)) ++done;
  return done;
}

Warnings CsvRecording::warnings() const {
  Warnings warnings;
  if (cut_) {
    warnings.push_back(
        {WarningCode::short_data, std::nullopt, fmt::format("{} ends within a row; the row is left out", info_.name)});
  }
  if (even_time_ && even_time_->worst_departure() > departure_worth_a_warning * time_tolerance_) {
    warnings.push_back({WarningCode::uneven_time, std::nullopt,
                        fmt::format("{}: times waver by up to {:.2g} % of a sample interval and are taken as even",
                                    info_.name, 100.0 * even_time_->worst_departure())});
  }
  return warnings;
}

}  // namespace

std::unique_ptr<Recording> open_csv(ByteSource source, const RecordingOptions& options) {
  return std::make_unique<CsvRecording>(std::move(source), options);
}

}  // namespace counterspot
