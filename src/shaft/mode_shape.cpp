#include "shaft/mode_shape.hpp"

#include <algorithm>

namespace counterspot {

double shape_at(const BeamSummary& beam, const BeamMode& mode, double position_m) {
  const auto next = std::lower_bound(beam.nodes_m.begin(), beam.nodes_m.end(), position_m);
  if (next == beam.nodes_m.begin()) return mode.shape.front();
  if (next == beam.nodes_m.end()) return mode.shape.back();
  const auto i = static_cast<std::size_t>(next - beam.nodes_m.begin());
  const double part = (position_m - beam.nodes_m[i - 1]) / (beam.nodes_m[i] - beam.nodes_m[i - 1]);
  return (1.0 - part) * mode.shape[i - 1] + part * mode.shape[i];
}

}  // namespace counterspot
