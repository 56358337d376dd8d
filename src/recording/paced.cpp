#include <algorithm>
#include <chrono>
#include <thread>

#include "recording/live_reader.hpp"
#include "recording/readers.hpp"

namespace counterspot {

namespace {

using Clock = std::chrono::steady_clock;

/// A recording from a pipe or a file, that can be told to wait for nothing more.
class StoppableRecording {
 public:
  StoppableRecording(const std::string& file, const LiveOptions& options) : recording_(opened(file, options)) {}

  const Recording& recording() const { return *recording_; }
  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) {
    if (stop.stop_requested()) return 0;
    const std::stop_callback pass_on(stop, [this] { stop_.request_stop(); });
    return recording_->read(interleaved);
  }

 private:
  std::unique_ptr<Recording> opened(const std::string& file, const LiveOptions& options) const {
    RecordingOptions plain;
    plain.sample_rate_Hz = options.csv_rate_Hz;
    plain.read_ahead = false;  // the capturing thread is the second thread
    return open_source(ByteSource(file, {}, stop_.get_token()), plain);
  }

  std::stop_source stop_;
  std::unique_ptr<Recording> recording_;
};

/// A recording handed out no faster than it was made: frame n not before n/rate seconds after the first read.
class PacedReader final : public LiveReader {
 public:
  PacedReader(const std::string& file, const LiveOptions& options) : source_(file, options), pace_(options.pace) {}

  const RecordingInfo& info() const override { return source_.recording().info(); }
  bool can_wait() const override { return false; }
  Warnings warnings() const override { return source_.recording().warnings(); }

  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) override {
    if (!begin_) begin_ = Clock::now();
    const std::size_t frames = source_.read(interleaved, stop);
    frames_ += static_cast<double>(frames);
    const std::chrono::duration<double> due(frames_ / (info().sample_rate_Hz * pace_));
    while (frames > 0 && !stop.stop_requested() && Clock::now() < *begin_ + due) {
      const Clock::duration left = *begin_ + std::chrono::duration_cast<Clock::duration>(due) - Clock::now();
      std::this_thread::sleep_for(std::min<Clock::duration>(left, std::chrono::milliseconds(20)));
    }
    return frames;
  }

 private:
  StoppableRecording source_;
  double pace_;
  std::optional<Clock::time_point> begin_;
  double frames_ = 0.0;
};

/// WAV or CSV from a pipe or a file, as it comes.
class PlainReader final : public LiveReader {
 public:
  PlainReader(const std::string& file, const LiveOptions& options) : source_(file, options) {}
  const RecordingInfo& info() const override { return source_.recording().info(); }
  Warnings warnings() const override { return source_.recording().warnings(); }
  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) override {
    return source_.read(interleaved, stop);
  }

 private:
  StoppableRecording source_;
};

}  // namespace

std::unique_ptr<LiveReader> open_paced(const std::string& file, const LiveOptions& options) {
  return std::make_unique<PacedReader>(file, options);
}

std::unique_ptr<LiveReader> open_as_it_comes(const std::string& file, const LiveOptions& options) {
  return std::make_unique<PlainReader>(file, options);
}

}  // namespace counterspot
