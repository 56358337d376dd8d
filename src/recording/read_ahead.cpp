#include <algorithm>
#include <array>
#include <condition_variable>
#include <cstring>
#include <exception>
#include <mutex>
#include <thread>

#include "recording/readers.hpp"

namespace counterspot {

namespace {

constexpr std::size_t block_samples = 32768;  // 256 KiB of doubles: stays in the processor's cache between the threads
constexpr std::size_t blocks_ahead = 6;

/// What the decoding thread hands over: samples, or the exception that came instead of them.
struct Block {
  std::vector<double> samples;
  std::size_t frames = 0;
  Warnings warnings;  ///< of the recording up to here
  std::exception_ptr trouble;
};

class ReadAhead final : public Recording {
 public:
  explicit ReadAhead(std::unique_ptr<Recording> inner)
      : inner_(std::move(inner)), channels_(inner_->info().channels.size()) {}

  const RecordingInfo& info() const override { return inner_->info(); }
  Warnings warnings() const override { return started_ ? seen_ : inner_->warnings(); }

  std::size_t read(std::span<double> interleaved) override {
    std::size_t wanted = interleaved.size() / channels_;
    std::size_t done = 0;
    while (done < wanted) {
      auto part = next(wanted - done);
      if (part.empty()) break;
      std::memcpy(interleaved.data() + done * channels_, part.data(), part.size_bytes());
      done += part.size() / channels_;
    }
    return done;
  }

  std::span<const double> next(std::size_t most_frames) override {
    const Block& block = current();
    if (block.trouble) std::rethrow_exception(block.trouble);
    std::size_t frames = std::min(most_frames, block.frames - used_frames_);
    std::span part(block.samples.data() + used_frames_ * channels_, frames * channels_);
    used_frames_ += frames;
    return part;
  }

 private:
  /// The block to read from; an exhausted one goes back to the decoding thread, except the last, which stays.
  const Block& current() {
    if (!started_) {
      for (Block& block : ring_) block.samples.resize(std::max<std::size_t>(1, block_samples / channels_) * channels_);
      worker_ = std::jthread([this](const std::stop_token& stop) { decode(stop); });
      started_ = true;
    }
    std::unique_lock lock(mutex_);
    if (holding_ && used_frames_ == ring_[tail_].frames && ring_[tail_].frames > 0) {
      tail_ = (tail_ + 1) % ring_.size();
      --filled_;
      holding_ = false;
      used_frames_ = 0;
      changed_.notify_all();
    }
    if (!holding_) {
      changed_.wait(lock, [this] { return filled_ > 0; });
      holding_ = true;
      seen_ = ring_[tail_].warnings;
    }
    return ring_[tail_];
  }

  /// The second thread: fills free blocks in order until the end, an exception, or the reader's goodbye.
  void decode(const std::stop_token& stop) {
    std::size_t head = 0;
    for (bool more = true; more; head = (head + 1) % ring_.size()) {
      {
        std::unique_lock lock(mutex_);
        if (!changed_.wait(lock, stop, [this] { return filled_ < ring_.size(); })) return;
      }
      more = fill(ring_[head]);
      std::scoped_lock lock(mutex_);
      ++filled_;
      changed_.notify_all();
    }
  }

  bool fill(Block& block) {
    try {
      block.frames = inner_->read(block.samples);
      block.warnings = inner_->warnings();
    } catch (...) {
      block.frames = 0;
      block.trouble = std::current_exception();
    }
    return block.frames > 0;
  }

  std::unique_ptr<Recording> inner_;
  std::size_t channels_;
  std::array<Block, blocks_ahead> ring_;
  std::mutex mutex_;
  std::condition_variable_any changed_;
  std::size_t filled_ = 0;       ///< blocks handed over and not yet given back
  std::size_t tail_ = 0;         ///< the oldest of them
  std::size_t used_frames_ = 0;  ///< of that one
  bool holding_ = false;         ///< the reader has it
  bool started_ = false;
  Warnings seen_;
  std::jthread worker_;  // last: ends before what it uses
};

}  // namespace

std::unique_ptr<Recording> read_ahead(std::unique_ptr<Recording> inner) {
  return std::make_unique<ReadAhead>(std::move(inner));
}

}  // namespace counterspot
