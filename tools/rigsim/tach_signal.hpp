#pragma once

#include <vector>

#include "rigsim/random.hpp"
#include "rigsim/speed.hpp"
#include "rigsim/truth.hpp"

namespace rigsim {

/// The tach's voltage. Each edge takes `rise_s` and what the recorder adds (half a cosine) and is at half height at θ =
/// 0 (or its jittered time).
std::vector<double> tach_signal(const RigTruth& rig, const SpinTruth& spin, const SpeedCurve& curve,
                                std::size_t samples, Random& random);

/// When the mark passed the tach, without jitter: the truth that detected edges can be held against. All whole turns
/// within the recording.
std::vector<double> mark_times_s(const SpeedCurve& curve, double duration_s);

}  // namespace rigsim
