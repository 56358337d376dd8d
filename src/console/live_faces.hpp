#pragma once

#include <cstdint>
#include <mutex>
#include <vector>

#include "console/page_words.hpp"
#include "console/recorder.hpp"
#include "counterspot/drawing/drawing_live.hpp"
#include "report/json.hpp"

namespace counterspot {

/// The faces that move while the shaft turns, worked out once for each reading, whoever and however many look on.
class LiveFaces {
 public:
  /// What each face shows in this view, in words and as points of its picture; nothing that is old.
  Json told(const RecorderView& view, const Viewer& viewer);
  /// The ground of a face at a scale, with a lens or without. @throws Error(request, "not_found").
  Picture ground(const RecorderView& view, int face, double rim, bool lens, const Viewer& viewer) const;

 private:
  struct Shown {
    std::vector<LiveFace> faces;
    std::vector<LiveVector> now;  ///< empty: nothing to show
  };
  Shown shown(const RecorderView& view);

  std::mutex mutex_;  // of all below
  std::uint64_t serial_ = 0;
  double at_s_ = -1.0;
  Shown shown_;
};

}  // namespace counterspot
