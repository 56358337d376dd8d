#include "counterspot/modal.hpp"

#include <algorithm>

namespace counterspot {

namespace {

double middle_of(const Shaft& shaft) {
  if (shaft.supports)
    return shaft.supports->center_of_mass_m.value_or(0.5 * (shaft.supports->a_m + shaft.supports->b_m));
  double sum = 0.0;
  for (const Plane& plane : shaft.planes) sum += plane.position_m;
  return sum / static_cast<double>(shaft.planes.size());
}

/// Between the nodes in a straight line, beyond the ends as at the end: |error| ≤ h²/8·|φ''|, under 0.3 % of 1 here.
double shape_at(const BeamSummary& beam, const BeamMode& mode, double position_m) {
  const auto next = std::lower_bound(beam.nodes_m.begin(), beam.nodes_m.end(), position_m);
  if (next == beam.nodes_m.begin()) return mode.shape.front();
  if (next == beam.nodes_m.end()) return mode.shape.back();
  const auto i = static_cast<std::size_t>(next - beam.nodes_m.begin());
  const double part = (position_m - beam.nodes_m[i - 1]) / (beam.nodes_m[i] - beam.nodes_m[i - 1]);
  return (1.0 - part) * mode.shape[i - 1] + part * mode.shape[i];
}

ModalPart part_of(const Shaft& shaft, const BeamSummary& beam, const BeamMode& mode,
                  const std::vector<Phasor>& unbalance_kg_m, const Eigen::MatrixXd& covariance) {
  ModalPart part{mode.speed_rad_s, 0.0};
  const auto planes = static_cast<Eigen::Index>(shaft.planes.size());
  Eigen::Matrix2Xd lever = Eigen::Matrix2Xd::Zero(2, 2 * planes);
  for (Eigen::Index p = 0; p < planes; ++p) {
    const auto at = static_cast<std::size_t>(p);
    const double shape = shape_at(beam, mode, shaft.planes[at].position_m);
    part.unbalance_kg_m += shape * unbalance_kg_m[at];
    lever.block<2, 2>(0, 2 * p) = shape * Eigen::Matrix2d::Identity();
  }
  part.covariance = lever * covariance * lever.transpose();
  return part;
}

}  // namespace

RigidParts rigid_parts(const Shaft& shaft, const std::vector<Phasor>& unbalance_kg_m) {
  const double middle_m = middle_of(shaft);
  RigidParts parts;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    parts.static_kg_m += unbalance_kg_m[p];
    parts.couple_kg_m2 += unbalance_kg_m[p] * (shaft.planes[p].position_m - middle_m);
  }
  return parts;
}

std::vector<ModalPart> modal_parts(const Shaft& shaft, double highest_rad_s, const std::vector<Phasor>& unbalance_kg_m,
                                   const Eigen::MatrixXd& covariance) {
  if (!shaft.tube || !shaft.supports) return {};
  BeamOptions options;
  options.elements = 24;
  options.modes = 2;
  const BeamSummary beam = critical_speeds(beam_of(shaft), options);
  std::vector<ModalPart> parts;
  for (const BeamMode& mode : beam.modes) {
    if (mode.speed_rad_s > 0.0 && highest_rad_s > rigid_up_to * mode.speed_rad_s)
      parts.push_back(part_of(shaft, beam, mode, unbalance_kg_m, covariance));
  }
  return parts;
}

}  // namespace counterspot
