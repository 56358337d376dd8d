#pragma once

#include <array>
#include <condition_variable>
#include <cstddef>
#include <exception>
#include <functional>
#include <memory>
#include <mutex>
#include <span>
#include <thread>

namespace counterspot {

/// Samples fetched on a second thread while earlier ones are used. They are handed over as floats, half the bytes of
/// doubles: what passes from core to core is what reading ahead costs. The thread begins with the first call of `next`.
class ReadAhead {
 public:
  /// Fills the span, which it does on the second thread, and returns how many samples it got: fewer only at the end.
  using Fetch = std::function<std::size_t(std::span<float>)>;

  /// @param samples_at_once of one call of `fetch`.
  ReadAhead(Fetch fetch, std::size_t samples_at_once);

  /// The next samples, at least one and at most `most`; empty at the end. Good until the next call.
  /// @throws what `fetch` throws, after the samples before it.
  std::span<const float> next(std::size_t most);

 private:
  static constexpr std::size_t pieces_ahead = 16;

  struct Piece {
    std::unique_ptr<float[]> samples;  ///< not cleared first
    std::size_t size = 0;              ///< fewer than there is room for: nothing follows
    std::exception_ptr trouble;
  };

  void fetch_all(const std::stop_token& stop);
  const Piece& oldest_piece();

  Fetch fetch_;
  std::size_t samples_at_once_;
  std::array<Piece, pieces_ahead> ring_;
  std::mutex mutex_;
  std::condition_variable_any changed_;
  std::size_t filled_ = 0;  ///< pieces handed over and not yet given back
  std::size_t oldest_ = 0;  ///< of them; the reader has it
  std::size_t used_ = 0;    ///< samples of that one
  std::jthread worker_;     // last: ends before what it uses
};

}  // namespace counterspot
