#pragma once

#include <string>
#include <utility>
#include <vector>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/drawing/drawing_shaft.hpp"

namespace counterspot::test {

/// One of each picture, of made-up values that do not change.
ClockFace example_face();
VectorDiagram example_vectors();
Sweep example_sweep();
Trace example_trace();
OrderSpectra example_spectra();
SpeedFrequencyMaps example_maps();
TubeView example_tube();
std::vector<TrendPoint> example_trend();
Qualification example_qualification();
RigCondition example_rig_condition(int jobs);
std::vector<CoefficientTrend> example_coefficient_trends();
std::vector<RigCheck> example_checks(int count);

/// All of them by name.
std::vector<std::pair<std::string, Picture>> example_pictures();

/// Shapes of a picture whose meaning begins so.
std::vector<Shape> shapes_meaning(const Picture& picture, const std::string& begin);
/// Words in a picture whose meaning is this.
std::vector<Lettering> words_meaning(const Picture& picture, const std::string& meaning);
/// The mean of a path's points.
Point middle_of(const Shape& path);

}  // namespace counterspot::test
