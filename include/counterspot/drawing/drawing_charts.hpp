#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/log/quality.hpp"
#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/tracking/sweep.hpp"
#include "counterspot/tracking/trace.hpp"
#include "counterspot/tracking/tracking.hpp"

namespace counterspot {

/// Amplitude (peak, in the sensors' units) and phase lag of every sensor and order over speed, 240 × 180 mm. Sensors of
/// different motion have their own scale each, stated with the curve. Resonances are marked.
Picture speed_picture(const Sweep& sweep, const Words& words = english());

/// How the vector of an order moved while the speed changed, one diagram a sensor, 150 × 150 mm each. The direction is
/// the phase lag, clockwise from the top; speeds are written along the path.
Picture path_picture(const Sweep& sweep, std::size_t order_index = 0, const Words& words = english());

/// Both, one over the other: what a sweep is shown as.
Picture sweep_picture(const Sweep& sweep, const Words& words = english());

/// Channels over time, one under the other, with the edges of the tach; 240 mm wide.
Picture trace_picture(const Trace& trace, const Words& words = english());

/// What every sensor's movement consists of, by order: a line each, heights in equal ratios over four decades under the
/// highest; 240 mm wide. Whole orders are numbered.
/// @param beside what the same spin's track found: its steady lines and noise are drawn in; may be empty.
Picture order_spectrum_picture(const OrderSpectra& spectra, const std::vector<SensorTrack>& beside = {},
                               const Words& words = english());

/// Amplitude over speed and frequency, one map a sensor, 240 × 150 mm each: the darker (on dark, the lighter), the
/// larger, in equal ratios over three decades, with a scale. Orders 1 to 4 are drawn in as lines, steady lines marked
/// from outside.
Picture map_picture(const SpeedFrequencyMaps& maps, const Words& words = english());

/// The way of the shaft where two sensors look at it at a right angle: one upwards, the other to the right, over one
/// turn, of the whole orders that were measured; a dot where the mark passes the tach, an arrow the way it goes. 150 ×
/// 150 mm.
Picture orbit_picture(const Track& track, const SensorTrack& up, const SensorTrack& right,
                      const Words& words = english());

/// One closed job on the trend.
struct TrendPoint {
  std::string job;
  double ratio = 0.0;  ///< final residual over limit
  std::optional<Verdict> verdict;
};

/// Final residual over limit, job after job, with the limit and the control chart's lines, 240 × 140 mm. A disc is
/// within, a cross outside, an open diamond unsure.
Picture trend_picture(const std::vector<TrendPoint>& points, const std::optional<ControlChart>& chart,
                      const Words& words = english());

}  // namespace counterspot
