#include <fmt/format.h>

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <exception>
#include <mutex>
#include <thread>
#include <utility>

#include "counterspot/recording/capture.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "recording/live_reader.hpp"

namespace counterspot {

namespace {

constexpr double block_s = 0.02;
constexpr std::size_t overruns_kept = 1000;

/// Frames that were made and never came in, one loss or several that nothing parts.
struct Missing {
  bool any = false;
  std::optional<std::int64_t> frames = 0;  ///< empty: nobody knows

  void add(std::optional<std::int64_t> more) {
    any = true;
    frames = frames && more ? std::optional(*frames + *more) : std::nullopt;
  }
};

struct LiveBlock {
  std::vector<double> samples;
  Missing missing;  ///< before these
};

/// The thread that captures and the one that reads share the queue and the notes, both under one mutex; the reader's
/// present block is its own.
class QueuedLive final : public LiveRecording {
 public:
  QueuedLive(std::unique_ptr<LiveReader> source, const LiveOptions& options)
      : source_(std::move(source)), info_(source_->info()), channels_(info_.channels.size()) {
    block_frames_ = std::max<std::size_t>(1, static_cast<std::size_t>(info_.sample_rate_Hz * block_s));
    most_waiting_ = std::max(static_cast<std::size_t>(options.queue_s * info_.sample_rate_Hz), block_frames_);
    capturing_ = std::jthread([this](const std::stop_token& stop) { capture(stop); });
  }

  const RecordingInfo& info() const override { return info_; }

  std::size_t read(std::span<double> interleaved) override {
    const auto part = next(interleaved.size() / channels_);
    std::copy(part.begin(), part.end(), interleaved.begin());
    return part.size() / channels_;
  }

  std::span<const double> next(std::size_t most_frames) override {
    if (used_ == present_.samples.size() && !next_block()) return {};
    const std::size_t count = std::min(most_frames * channels_, present_.samples.size() - used_);
    const std::span<const double> part(present_.samples.data() + used_, count);
    used_ += count;
    return part;
  }

  Warnings warnings() const override {
    const std::scoped_lock lock(mutex_);
    Warnings all = source_warnings_;
    if (count_ > 0) all.push_back(overrun_warning());
    return all;
  }

  std::vector<Overrun> overruns() const override {
    const std::scoped_lock lock(mutex_);
    return overruns_;
  }
  std::int64_t overrun_count() const override {
    const std::scoped_lock lock(mutex_);
    return count_;
  }
  std::int64_t frames_captured() const override {
    const std::scoped_lock lock(mutex_);
    return captured_;
  }
  double waiting_s() const override {
    const std::scoped_lock lock(mutex_);
    return static_cast<double>(waiting_) / info_.sample_rate_Hz;
  }
  void stop() override { capturing_.request_stop(); }

 private:
  bool next_block() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return !queue_.empty() || ended_; });
    if (queue_.empty()) {
      note(std::exchange(missing_, {}));
      if (trouble_) std::rethrow_exception(std::exchange(trouble_, nullptr));
      return false;
    }
    present_ = std::move(queue_.front());
    queue_.pop_front();
    const std::size_t frames = present_.samples.size() / channels_;
    waiting_ -= frames;
    note(present_.missing);
    handed_out_ += static_cast<std::int64_t>(frames);
    used_ = 0;
    changed_.notify_all();
    return true;
  }

  void note(const Missing& missing) {
    if (!missing.any) return;
    ++count_;
    if (overruns_.size() < overruns_kept) overruns_.push_back({handed_out_, missing.frames});
  }

  Warning overrun_warning() const {
    return {WarningCode::overrun, std::nullopt,
            fmt::format("{}: samples were lost {} times; the machine was too busy with other work: spin again",
                        info_.name, count_)};
  }

  void capture(const std::stop_token& stop) {
    try {
      LiveBlock block;
      while (fill(block, stop)) hand_over(block, stop);
    } catch (...) {
      const std::scoped_lock lock(mutex_);
      if (!stop.stop_requested()) trouble_ = std::current_exception();  // what stops in the midst of it may be cut
    }
    const std::scoped_lock lock(mutex_);
    ended_ = true;
    changed_.notify_all();
  }

  bool fill(LiveBlock& block, const std::stop_token& stop) {
    block.samples.resize(block_frames_ * channels_);
    const std::size_t frames = source_->read(block.samples, stop);
    block.samples.resize(frames * channels_);
    std::optional<std::int64_t> lost;
    if (source_->lost_some(lost)) block.missing.add(lost);
    return frames > 0;
  }

  void hand_over(LiveBlock& block, const std::stop_token& stop) {
    const std::size_t frames = block.samples.size() / channels_;
    std::unique_lock lock(mutex_);
    captured_ += static_cast<std::int64_t>(frames);
    source_warnings_ = source_->warnings();
    auto has_room = [&] { return waiting_ + frames <= most_waiting_ || queue_.empty(); };
    if (source_->can_wait() && !changed_.wait(lock, stop, has_room)) return;
    if (block.missing.any) missing_.add(std::exchange(block.missing, {}).frames);
    if (!has_room()) {
      missing_.add(static_cast<std::int64_t>(frames));
      return;
    }
    block.missing = std::exchange(missing_, {});
    waiting_ += frames;
    queue_.push_back(std::move(block));
    block = {};
    changed_.notify_all();
  }

  std::unique_ptr<LiveReader> source_;  // of the capturing thread
  const RecordingInfo info_;
  const std::size_t channels_;
  std::size_t block_frames_ = 1;
  std::size_t most_waiting_ = 1;

  LiveBlock present_;  // of the reader
  std::size_t used_ = 0;

  mutable std::mutex mutex_;  // all below
  std::condition_variable_any changed_;
  std::deque<LiveBlock> queue_;
  std::size_t waiting_ = 0;  // frames in the queue
  Missing missing_;          // since the last block that found room
  std::int64_t captured_ = 0;
  std::int64_t handed_out_ = 0;
  std::int64_t count_ = 0;
  std::vector<Overrun> overruns_;
  Warnings source_warnings_;
  bool ended_ = false;
  std::exception_ptr trouble_;
  std::jthread capturing_;  // last: ends before what it uses
};

void check(const LiveOptions& options) {
  if (!(options.sample_rate_Hz > 0.0 && options.sample_rate_Hz <= 1e7) || !(options.pace > 0.0)) {
    throw Error(Trouble::request, "bad_sample_rate", "the sample rate must be above 0 and at most 10 MHz",
                "give it with its unit, as in --rate \"51.2 kHz\"");
  }
  if (options.channels < 1 || options.channels > 64) {
    throw Error(Trouble::request, "bad_channels", fmt::format("{} channels cannot be recorded", options.channels),
                "give 1 to 64, the tach's among them");
  }
}

std::unique_ptr<LiveReader> reader_of(const std::string& source, const LiveOptions& options) {
  auto rest = [&](std::size_t length) { return source.substr(length); };
  if (source.starts_with("alsa:")) return open_alsa(rest(5), options);
  if (source.starts_with("raw:")) return open_raw(rest(4), options);
  if (source.starts_with("play:")) return open_paced(rest(5), options);
  if (source.empty()) {
    throw Error(Trouble::request, "bad_source", "no source of samples is named",
                "name one, as in alsa:hw:1, raw:rig.pipe, play:spin.wav, or - for standard input");
  }
  return open_as_it_comes(source, options);
}

}  // namespace

LiveOptions live_options_of(const std::string& rate, const std::string& format) {
  LiveOptions options;
  if (!rate.empty()) {
    options.sample_rate_Hz = parse_quantity(rate, Dimension::frequency);
    options.csv_rate_Hz = options.sample_rate_Hz;
  }
  if (!format.empty()) options.format = raw_format_named(format);
  return options;
}

std::unique_ptr<LiveRecording> open_live(const std::string& source, const LiveOptions& options) {
  check(options);
  return std::make_unique<QueuedLive>(reader_of(source, options), options);
}

}  // namespace counterspot
