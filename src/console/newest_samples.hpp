#pragma once

#include <memory>
#include <mutex>
#include <span>
#include <vector>

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// The newest seconds of a live source, as a recording that can be looked at while the source goes on.
class NewestSamples {
 public:
  static constexpr double kept_s = 6.0;

  void begin(const RecordingInfo& info);
  void push(std::span<const double> interleaved);
  /// Empty: there was no source.
  std::unique_ptr<Recording> recording() const;

 private:
  mutable std::mutex mutex_;  // of all below
  RecordingInfo info_;
  std::vector<float> ring_;  // whole frames; holds 24 bits
  std::size_t next_ = 0;
  bool full_ = false;
};

}  // namespace counterspot
