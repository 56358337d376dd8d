#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "counterspot/recording/recording.hpp"
#include "counterspot/tach/tach.hpp"
#include "tach/edge_finder.hpp"
#include "tach/turn_clock.hpp"
#include "tracking/frame_buffer.hpp"
#include "tracking/turn_sums.hpp"

namespace counterspot {

/// One turn with its samples; the samples stay where they are until the next turn is asked for.
struct TurnOfSamples {
  Turn turn;
  std::int64_t first_frame = 0;  ///< the first frame at or behind the edge that begins the turn
  TurnFrames frames;             ///< up to the last frame before the edge that ends it
};

/// Frames between turns, or before the first or behind the last one.
struct Unseen {
  std::int64_t begin_frame = 0;
  std::int64_t end_frame = 0;
  double frames_per_turn_before = 0.0;  ///< of the turn in front of it; 0 if there is none
  double frames_per_turn_behind = 0.0;
  std::vector<double> square;  ///< of each used channel: Σ (x − mean)², the mean taken over half a second each
};

/// A recording as a stream of turns, in one pass. Holds the samples of the turns that are not settled yet, at most
/// `most_held_samples` of them: a shaft that turns more slowly than that is not followed.
class SpinStream {
 public:
  static constexpr std::size_t most_held_samples = std::size_t{1} << 21;

  /// @param used 0-based channels whose samples must be finite.
  /// @throws Error(recording, "no_tach") if there are no two states in the tach signal; "not_finite"; what
  /// Recording::read throws.
  SpinStream(Recording& recording, const TachSetup& tach, std::vector<std::size_t> used, std::size_t block_frames);

  /// @throws Error(recording, …) at the end of a recording: "more_marks" whose tach saw more marks than the one that is
  /// stated, "other_wheel" whose pulses repeat after another number than is stated.
  std::optional<TurnOfSamples> next();

  /// What was seen of the tach so far.
  TachReport report() const;
  const TurnClock& clock() const { return clock_; }
  /// Where no turn was seen, if it lasted long enough to hold two; at most 64 of them. Known so far.
  const std::vector<Unseen>& unseen() const { return unseen_; }
  std::int64_t frames_read() const { return end_frame_; }

  /// @throws Error(recording, "not_finite") naming the first sample of a used channel that is NaN or infinite, if there
  /// is one.
  void check_finite(std::int64_t first_frame, std::int64_t end_frame) const;
  void check_finite(const TurnOfSamples& turn) const {
    check_finite(turn.first_frame, turn.first_frame + static_cast<std::int64_t>(turn.frames.count));
  }

 private:
  bool read_block();
  void pass_over(std::int64_t first_frame, std::int64_t end_frame);
  void end_level_piece();
  void learn_level();
  bool try_level(std::int64_t window_end, bool any_pulses);
  void find_edges();
  void feed_clock(std::vector<Pulse>& pulses);
  void release();
  Samples frame_at(std::int64_t frame) const;
  std::int64_t most_held_frames() const;

  Recording& recording_;
  TachSetup tach_;
  std::vector<std::size_t> used_;
  std::size_t channels_ = 0;
  std::size_t block_frames_ = 0;
  std::optional<std::size_t> tach_channel_;
  double tach_scale_ = 1.0;    // volts per sample
  std::vector<double> times_;  // edge times from a file, in frames
  std::size_t times_used_ = 0;
  std::optional<EdgeFinder> edges_;
  TurnClock clock_;
  TachReport report_;
  std::vector<Pulse> pulses_;
  std::vector<Turn> settled_;
  std::deque<Turn> turns_;
  FrameBuffer buffer_;  // frames [begin_frame_, end_frame_)
  std::int64_t begin_frame_ = 0;
  std::int64_t checked_frame_ = 0;  // all frames before it are known to be finite, or lie in a turn that was handed out
  std::vector<Unseen> unseen_;
  std::vector<LevelSums> piece_;  // of each used channel, of the half second of the newest unseen stretch
  std::int64_t piece_frames_ = 0;
  double frames_per_turn_ = 0.0;     // of the turn handed out last
  std::int64_t searched_frame_ = 0;  // edges are known up to here
  std::int64_t end_frame_ = 0;
  bool ended_ = false;
};

}  // namespace counterspot
