#include <algorithm>
#include <chrono>
#include <thread>

#include "recording/live_reader.hpp"

namespace counterspot {

namespace {

using Clock = std::chrono::steady_clock;

/// A recording handed out no faster than it was made: frame n not before n/rate seconds after the first read.
class PacedReader final : public LiveReader {
 public:
  PacedReader(std::unique_ptr<Recording> recording, double pace) : recording_(std::move(recording)), pace_(pace) {}

  const RecordingInfo& info() const override { return recording_->info(); }
  bool can_wait() const override { return false; }
  Warnings warnings() const override { return recording_->warnings(); }

  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) override {
    if (!begin_) begin_ = Clock::now();
    const std::size_t frames = recording_->read(interleaved);
    frames_ += static_cast<double>(frames);
    const std::chrono::duration<double> due(frames_ / (info().sample_rate_Hz * pace_));
    while (frames > 0 && !stop.stop_requested() && Clock::now() < *begin_ + due) {
      const Clock::duration left = *begin_ + std::chrono::duration_cast<Clock::duration>(due) - Clock::now();
      std::this_thread::sleep_for(std::min<Clock::duration>(left, std::chrono::milliseconds(20)));
    }
    return frames;
  }

 private:
  std::unique_ptr<Recording> recording_;
  double pace_;
  std::optional<Clock::time_point> begin_;
  double frames_ = 0.0;
};

/// WAV or CSV from a pipe or a file, as it comes.
class PlainReader final : public LiveReader {
 public:
  explicit PlainReader(std::unique_ptr<Recording> recording) : recording_(std::move(recording)) {}
  const RecordingInfo& info() const override { return recording_->info(); }
  Warnings warnings() const override { return recording_->warnings(); }
  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) override {
    return stop.stop_requested() ? 0 : recording_->read(interleaved);
  }

 private:
  std::unique_ptr<Recording> recording_;
};

std::unique_ptr<Recording> opened(const std::string& file, const LiveOptions& options) {
  RecordingOptions plain;
  plain.sample_rate_Hz = options.csv_rate_Hz;
  plain.read_ahead = false;  // the capturing thread is the second thread
  return open_recording(file, plain);
}

}  // namespace

std::unique_ptr<LiveReader> open_paced(const std::string& file, const LiveOptions& options) {
  return std::make_unique<PacedReader>(opened(file, options), options.pace);
}

std::unique_ptr<LiveReader> open_as_it_comes(const std::string& file, const LiveOptions& options) {
  return std::make_unique<PlainReader>(opened(file, options));
}

}  // namespace counterspot
