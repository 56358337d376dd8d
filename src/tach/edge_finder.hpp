#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "counterspot/model/rig.hpp"

namespace counterspot {

/// One pulse of the tach. Frames from the start of the recording.
struct Pulse {
  double edge_frame = 0.0;    ///< where the signal crosses the level in the direction asked, by linear interpolation
  double width_frames = 0.0;  ///< to the crossing back; 0 if it is not known
};

/// Two-level detector with hysteresis, streaming. An edge counts when the signal, having been beyond level −
/// hysteresis/2 on the one side, gets beyond level + hysteresis/2 on the other; its time is that of the last crossing
/// of the level on the way. (For falling edges everything is mirrored.) A recording that begins within a pulse gives no
/// edge for that pulse.
class EdgeFinder {
 public:
  /// @param level, hysteresis (full width, ≥ 0) in units of a sample.
  /// @param first_frame the place of the first sample that will be pushed.
  EdgeFinder(double level, double hysteresis, Edge edge, std::int64_t first_frame = 0);

  /// The next `count` samples, float or double, `stride` of them apart. Pulses that end in them are appended.
  template <typename Sample>
  void push(const Sample* samples, std::size_t count, std::size_t stride, std::vector<Pulse>& pulses);

  /// The end of the recording: a pulse that has begun is appended with unknown width.
  void finish(std::vector<Pulse>& pulses);

  /// A pulse has begun and not yet ended.
  bool inside() const { return state_ == State::inside; }

  /// No pulse to come begins before this frame.
  double needed_from() const { return state_ == State::inside || previous_ > level_ ? begin_ : frame_; }

 private:
  enum class State { unknown, outside, inside };
  double sign_;
  double level_;  // of the signal times sign_
  double upper_;
  double lower_;
  State state_ = State::unknown;
  double previous_ = 0.0;
  double frame_ = 0.0;  // of the next sample
  double begin_ = 0.0;  // last crossing of the level upwards
  double end_ = 0.0;    // last crossing of the level downwards
};

}  // namespace counterspot
