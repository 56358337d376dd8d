#pragma once

#include <chrono>
#include <functional>
#include <map>
#include <mutex>
#include <string>

#include "console/page_words.hpp"
#include "console/recorder.hpp"
#include "counterspot/drawing/titled.hpp"

namespace counterspot {

/// The curves beside the faces, drawn by the library for all who look on, a few times a second at most.
class LiveCurves {
 public:
  enum class Kind { time, speed, orders };

  LiveCurves(const Recorder& recorder, const Rig& rig, std::string program)
      : recorder_(recorder), rig_(rig), program_(std::move(program)) {}

  /// SVG. @throws Error as `order_spectra`, Error(request, "not_found").
  std::string drawn(Kind kind, const Viewer& viewer, Theme theme);

 private:
  using Clock = std::chrono::steady_clock;
  struct Drawn {
    Clock::time_point at;
    std::string svg;
  };
  Picture picture(Kind kind, const Viewer& viewer) const;
  Picture orders(const Viewer& viewer) const;
  PictureOf of_now() const;

  const Recorder& recorder_;
  const Rig rig_;
  const std::string program_;
  std::mutex mutex_;  // of all below
  std::map<std::string, Drawn> drawn_;
};

}  // namespace counterspot
