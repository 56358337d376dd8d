#pragma once

#include <optional>

#include "counterspot/tracking/tracking.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// A spin with what speaks against taking it for a reading at all.
struct MeasuredSpin {
  Track track;
  std::optional<Error> refusal;
};

/// As `track`, which throws the refusal: for those who look into a recording to say what is wrong with it.
MeasuredSpin measure_spin(Recording& recording, const Rig& rig, const TrackOptions& options = {});

}  // namespace counterspot
