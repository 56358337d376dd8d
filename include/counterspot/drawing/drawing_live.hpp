#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing_shaft.hpp"
#include "counterspot/guide/live_vectors.hpp"
#include "counterspot/tracking/sweep.hpp"

namespace counterspot {

/// The clock face of a plane, or of a sensor, while the shaft turns: the ground, drawn once for each scale, and over it
/// what moves, as points of the same picture. So a page moves a few points many times a second, and draws nothing that
/// could disagree with the pictures. It says whose it is by the shaft alone: it is the size of a palm, is redrawn while
/// it is looked at, and stands under a header with job, rig and time. What is kept or printed, faces to fit, curves and
/// sheets, says all (`titled`, `face_to_touch`).

inline constexpr double live_face_mm = 120.0;  ///< wide and high
inline constexpr Point live_middle{60.0, 62.0};
inline constexpr Point lens_middle{106.0, 99.0};

struct LiveFace {
  std::string shaft;             ///< its id
  std::string name;              ///< of the plane or sensor
  std::optional<Motion> motion;  ///< of a sensor; empty: unbalance at a plane
  std::string end = "A";
  Rotation rotation = Rotation::clockwise;  ///< as seen from that end
  std::optional<double> limit_kg_m;
  std::vector<LiveVector> spins;  ///< those that count, in order, with what they showed
  double rim = 0.0;               ///< what the outermost ring is worth, kg·m or SI of the sensor
  bool lens = false;              ///< its middle is shown once more, larger
  UnitSystem units = UnitSystem::metric;
};

/// One for each plane, as soon as the job's spins told what a weight there does; until then one for each sensor.
std::vector<LiveFace> live_faces(const LiveJob& job, UnitSystem units);

/// Sets the scale of all faces to one round number, so that what is to be seen takes most of them. It follows what
/// moves, but not to and fro: it stays as long as the largest vector lies between a fifth of it and all of it. Never so
/// small that a limit lies outside; where a vector is short beside it, a lens comes, and stays until it is well out of
/// it.
/// @param now one for each face; empty: the last spin's.
void set_rim(std::vector<LiveFace>& faces, const std::vector<LiveVector>& now);

Picture live_face_picture(const LiveFace& face, const Words& words = english());

struct LiveMark {
  Point tip;                   ///< on the rim, if it lies beyond it
  std::vector<Point> ellipse;  ///< that holds the vector's end in 95 of 100 cases; empty: not known, or beyond the rim
  bool beyond = false;
  std::optional<Point> in_lens;     ///< the tip once more, on the lens's ring if it lies beyond it
  std::vector<Point> lens_ellipse;  ///< likewise, cut off at the ring
};
LiveMark live_mark(const LiveFace& face, const LiveVector& now);

/// Amplitude (peak) and phase lag of every sensor's order 1 over the last seconds, 300 × 190 mm; right is now, so what
/// stopped coming moves away from there. A marker at the newest value; gaps where there was none.
/// @param course with order 1 alone; times on the clock of `now_s`. @param said over it.
Picture course_picture(const Sweep& course, double now_s, double seconds, const std::string& said,
                       const Words& words = english());

}  // namespace counterspot
