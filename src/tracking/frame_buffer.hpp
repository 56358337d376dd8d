#pragma once

#include <cstddef>
#include <variant>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// Samples where they lie, as floats or as doubles.
class Samples {
 public:
  Samples() = default;
  Samples(const float* floats) : first_(floats) {}     // NOLINT(google-explicit-constructor): it is that pointer
  Samples(const double* doubles) : first_(doubles) {}  // NOLINT(google-explicit-constructor)

  /// Calls `work` with the plain pointer: for loops over many samples.
  template <typename Work>
  auto visit(Work work) const {
    return std::visit(work, first_);
  }

  double operator[](std::size_t i) const {
    return visit([i](const auto* x) { return static_cast<double>(x[i]); });
  }
  Samples operator+(std::size_t count) const {
    return visit([count](const auto* x) { return Samples(x + count); });
  }

 private:
  std::variant<const double*, const float*> first_;
};

/// Samples that must be readable behind the last frame (their values do not matter).
inline constexpr std::size_t frame_padding = 4;

/// The frames of a recording that are at hand, channels side by side. Where floats hold every sample they are kept as
/// such: to widen them would take as long as to sum them, and they fill half the cache.
class FrameBuffer {
 public:
  FrameBuffer(std::size_t channels, bool floats);

  void make_room(std::size_t frames);
  /// Reads behind what is held, where there is room or room is made. @return the frames read; 0 at the end.
  std::size_t read(Recording& recording, std::size_t most_frames);
  /// Moves what is behind the first `frames` to the front.
  void drop(std::size_t frames);

  /// A frame that is held, and those behind it.
  Samples at(std::size_t frame) const;

 private:
  std::size_t channels_;
  std::size_t held_ = 0;
  std::variant<std::vector<double>, std::vector<float>> samples_;
};

}  // namespace counterspot
