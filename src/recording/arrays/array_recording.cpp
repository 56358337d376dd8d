#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstring>

#include "counterspot/units/error.hpp"
#include "recording/arrays/array_choice.hpp"
#include "recording/arrays/array_formats.hpp"
#include "recording/columns_taken.hpp"
#include "recording/even_time.hpp"
#include "recording/readers.hpp"

namespace counterspot {

namespace {

constexpr std::size_t frames_for_rate = 4096;
constexpr std::size_t values_at_once = 65536;  // of all channels, so that they stay in the cache

/// Puts columns that stand one behind the other into frames of so many channels, from channel `begin` on. Frames come
/// in groups that stay in the nearest cache, columns in pairs that are written as one: that takes a third of the time.
void interleave(std::span<const double> columns, std::size_t count, std::span<double> interleaved, std::size_t begin,
                std::size_t channels) {
  constexpr std::size_t values_in_group = 2048;
  const std::size_t frames = interleaved.size() / channels;
  const std::size_t group = std::max<std::size_t>(1, values_in_group / channels);
  for (std::size_t from = 0; from < frames; from += group) {
    const std::size_t to = std::min(frames, from + group);
    const double* column = columns.data();
    std::size_t left = count;
    for (; left >= 2; left -= 2, column += 2 * frames) {
      double* frame = &interleaved[from * channels + begin + count - left];
      for (std::size_t k = from; k < to; ++k, frame += channels) {
        const double pair[2] = {column[k], column[frames + k]};
        std::memcpy(frame, pair, sizeof pair);
      }
    }
    for (std::size_t k = from; left == 1 && k < to; ++k) interleaved[k * channels + begin + count - 1] = column[k];
  }
}

class ArrayRecording final : public Recording {
 public:
  ArrayRecording(ByteSource source, ArrayFormat format, const RecordingOptions& options)
      : source_(std::move(source)),
        file_(open_array_file(source_, format)),
        choice_(choose_arrays(*file_, source_.name(), options)) {
    info_.name = source_.name();
    info_.format = fmt::format("{}, {}", file_->format(), file_->arrays()[choice_.series[0].array].type);
    info_.channels = choice_.channels;
    info_.frames = static_cast<std::int64_t>(choice_.frames);
    info_.others = choice_.others;
    if (choice_.time) info_.time_channel = static_cast<int>(choice_.time->index);
    read_rate(options);
    read_edges();
    describe();
  }

  const RecordingInfo& info() const override { return info_; }
  Warnings warnings() const override { return times_ ? times_->warnings() : Warnings{}; }

  const EvenTime* times() const { return times_ ? &*times_ : nullptr; }
  const TimeColumn& time_column() const { return *choice_.time; }

  std::size_t read(std::span<double> interleaved) override {
    const std::size_t channels = info_.channels.size();
    const std::size_t frames = std::min(interleaved.size() / channels, choice_.frames - next_);
    const std::size_t at_once = std::max<std::size_t>(1, values_at_once / channels);
    for (std::size_t done = 0; done < frames;) {
      const std::size_t count = std::min(at_once, frames - done);
      read_frames(next_, interleaved.subspan(done * channels, count * channels));
      hold_times_even(interleaved.subspan(done * channels, count * channels));
      next_ += count;
      done += count;
    }
    return frames;
  }

 private:
  void read_frames(std::size_t first, std::span<double> interleaved) {
    const std::size_t channels = info_.channels.size();
    for (std::size_t c = 0; c < channels;)
      c += choice_.series[c].one_by_one ? read_one_by_one(c, first, interleaved) : read_rows(c, first, interleaved);
  }

  /// The channels from `begin` on that the file holds one by one. @return how many they are.
  std::size_t read_one_by_one(std::size_t begin, std::size_t first, std::span<double> interleaved) {
    const std::size_t channels = info_.channels.size();
    const std::size_t frames = interleaved.size() / channels;
    std::size_t end = begin;
    while (end < channels && choice_.series[end].one_by_one) ++end;
    block_.resize(frames * (end - begin));
    for (std::size_t c = begin; c < end; ++c)
      read_series(c, first, std::span(block_).subspan((c - begin) * frames, frames));
    interleave(block_, end - begin, interleaved, begin, channels);
    return end - begin;
  }

  /// The channels of an array that the file holds frame by frame, all at once. @return how many they are.
  std::size_t read_rows(std::size_t begin, std::size_t first, std::span<double> interleaved) {
    const std::size_t channels = info_.channels.size();
    const std::size_t array = choice_.series[begin].array;
    const std::size_t columns = choice_.series[begin].columns;
    if (columns == channels) {
      file_->read(array, first * columns, interleaved);
      return columns;
    }
    const std::size_t frames = interleaved.size() / channels;
    block_.resize(frames * columns);
    file_->read(array, first * columns, block_);
    for (std::size_t k = 0; k < frames; ++k)
      std::copy_n(block_.begin() + static_cast<std::ptrdiff_t>(k * columns), columns,
                  interleaved.begin() + static_cast<std::ptrdiff_t>(k * channels + begin));
    return columns;
  }

  void read_rate(const RecordingOptions& options) {
    if (choice_.time) return read_times();
    info_.sample_rate_Hz = rate_without_times(info_, options, choice_.sample_rate_Hz);
    info_.rate_is_stated = !choice_.sample_rate_Hz;
  }

  void read_times() {
    TimeColumn& time = *choice_.time;
    std::vector<double> values(std::min(frames_for_rate, choice_.frames));
    read_series(time.index, 0, values);
    guess_unit(time, values);
    double last = 0.0;
    read_series(time.index, choice_.frames - 1, {&last, 1});
    const int digits = file_->arrays()[choice_.series[time.index].array].digits;
    const double largest_s = std::max(std::abs(values[0]), std::abs(last)) * time.seconds_per_unit;
    const double rounding_s =
        std::max(rounding_of(values) * time.seconds_per_unit, digits < 53 ? std::ldexp(largest_s, 1 - digits) : 0.0);
    std::vector<TimeOfRow> first;
    for (std::size_t k = 0; k < values.size(); ++k)
      first.push_back({values[k] * time.seconds_per_unit, static_cast<std::int64_t>(k + 1)});
    times_.emplace(info_.name, first, rounding_s, "frame");
    info_.sample_rate_Hz = 1.0 / times_->interval_s();
    info_.start_time_s = times_->start_time_s();
  }

  void read_series(std::size_t channel, std::size_t first, std::span<double> values) {
    const Series& series = choice_.series[channel];
    if (series.one_by_one) return file_->read(series.array, series.column * choice_.frames + first, values);
    std::vector<double> rows(values.size() * series.columns);
    file_->read(series.array, first * series.columns, rows);
    for (std::size_t k = 0; k < values.size(); ++k) values[k] = rows[k * series.columns + series.column];
  }

  void hold_times_even(std::span<const double> interleaved) {
    if (!times_) return;
    const std::size_t channels = info_.channels.size();
    for (std::size_t k = 0; k * channels < interleaved.size(); ++k) {
      const double time_s = interleaved[k * channels + choice_.time->index] * choice_.time->seconds_per_unit;
      if (!times_->accept(time_s)) times_->refuse({time_s, static_cast<std::int64_t>(next_ + k + 1)});
    }
  }

  void read_edges() {
    if (!choice_.edges) return;
    const ArrayInfo& array = file_->arrays()[*choice_.edges];
    std::size_t count = 1;
    for (const std::size_t length : array.shape) count *= length;
    info_.edge_times_s.resize(count);
    file_->read(*choice_.edges, 0, info_.edge_times_s);
    for (std::size_t i = 1; i < count; ++i) {
      if (info_.edge_times_s[i] > info_.edge_times_s[i - 1]) continue;
      throw Error(Trouble::recording, "not_increasing",
                  fmt::format("{}: '{}' has {} values where the channels have {}, and its value {} does not come after "
                              "the one before, as edge times do",
                              info_.name, array.name, count, choice_.frames, i + 1),
                  "name another channel for the tach in the rig file; 'inspect' lists them");
    }
  }

  void describe() {
    std::vector<TakenFor> channels;
    for (std::size_t i = 0; i < info_.channels.size(); ++i) {
      const ArrayInfo& array = file_->arrays()[choice_.series[i].array];
      const std::string what = fmt::format("channel {} '{}'", i + 1, info_.channels[i].name);
      if (choice_.time && choice_.time->index == i) {
        const TimeColumn& time = *choice_.time;
        channels.push_back(
            {what, fmt::format("the times, in {}", time.unit), fmt::format("time = \"{}\"", info_.channels[i].name)});
      } else {
        TakenFor taken = values_taken(what, info_.channels[i]);
        taken.as += fmt::format("; {}", array.type);
        channels.push_back(std::move(taken));
      }
    }
    info_.taken = std::move(channels);
    info_.taken.insert(info_.taken.end(), choice_.taken.begin(), choice_.taken.end());
    if (!choice_.time) info_.taken.push_back({"times", "none: the rate is given", "time = \"none\""});
  }

  ByteSource source_;
  std::unique_ptr<ArrayFile> file_;
  ArrayChoice choice_;
  RecordingInfo info_;
  std::optional<EvenTime> times_;
  std::size_t next_ = 0;
  std::vector<double> block_;
};

}  // namespace

std::unique_ptr<Recording> open_arrays(ByteSource source, ArrayFormat format, const RecordingOptions& options) {
  auto arrays = std::make_unique<ArrayRecording>(std::move(source), format, options);
  const auto* times = arrays->times();
  if (times == nullptr || !times->wavers()) return arrays;
  const TimeColumn time = arrays->time_column();
  const EvenTime even = *times;
  return at_even_times(std::move(arrays), time, even);
}

}  // namespace counterspot
