#pragma once

#include "counterspot/recording/recording.hpp"

namespace counterspot {

/// A rate that a person states goes for a recording that has none; one that has another is not what the person thinks
/// it is. Recorders round what they write, so a thousandth is let pass (common practice, no source).
/// @throws Error(request, "other_sample_rate").
void refuse_other_rate(const RecordingInfo& info, double stated_Hz);

}  // namespace counterspot
