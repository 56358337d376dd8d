#include "recording/read_ahead.hpp"

#include <algorithm>
#include <utility>

namespace counterspot {

ReadAhead::ReadAhead(Fetch fetch, std::size_t samples_at_once)
    : fetch_(std::move(fetch)), samples_at_once_(samples_at_once) {}

std::span<const float> ReadAhead::next(std::size_t most) {
  if (!worker_.joinable()) {
    worker_ = std::jthread([this](const std::stop_token& stop) { fetch_all(stop); });
  } else if (used_ == samples_at_once_) {
    const std::scoped_lock lock(mutex_);
    oldest_ = (oldest_ + 1) % ring_.size();
    used_ = 0;
    // The other waits only while all are filled, so it is woken on the way down, once for several pieces: to wake it
    // costs more than to fetch one.
    if (--filled_ == ring_.size() / 2) changed_.notify_one();
  }
  const Piece& piece = oldest_piece();
  if (used_ == piece.size && piece.trouble) std::rethrow_exception(piece.trouble);
  const std::span<const float> part(piece.samples.get() + used_, std::min(most, piece.size - used_));
  used_ += part.size();
  return part;
}

/// As soon as it is there.
const ReadAhead::Piece& ReadAhead::oldest_piece() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return filled_ > 0; });
  return ring_[oldest_];
}

/// The second thread: fills free pieces in order until the end, an exception, or the reader's goodbye.
void ReadAhead::fetch_all(const std::stop_token& stop) {
  for (std::size_t newest = 0;; newest = (newest + 1) % ring_.size()) {
    {
      std::unique_lock lock(mutex_);
      if (!changed_.wait(lock, stop, [this] { return filled_ < ring_.size(); })) return;
    }
    Piece& piece = ring_[newest];
    if (!piece.samples) piece.samples = std::make_unique_for_overwrite<float[]>(samples_at_once_);
    try {
      piece.size = fetch_({piece.samples.get(), samples_at_once_});
    } catch (...) {
      piece.trouble = std::current_exception();
    }
    {
      const std::scoped_lock lock(mutex_);
      ++filled_;
    }
    changed_.notify_one();
    if (piece.trouble || piece.size < samples_at_once_) return;
  }
}

}  // namespace counterspot
