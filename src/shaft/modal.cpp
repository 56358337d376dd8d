#include "counterspot/shaft/modal.hpp"

#include "shaft/mode_shape.hpp"

namespace counterspot {

namespace {

double middle_of(const Shaft& shaft) {
  if (shaft.supports)
    return shaft.supports->center_of_mass_m.value_or(0.5 * (shaft.supports->a_m + shaft.supports->b_m));
  double sum = 0.0;
  for (const Plane& plane : shaft.planes) sum += plane.position_m;
  return sum / static_cast<double>(shaft.planes.size());
}

ModalPart part_of(const Shaft& shaft, const BeamSummary& beam, const BeamMode& mode,
                  const std::vector<Phasor>& unbalance_kg_m, const Eigen::MatrixXd& covariance) {
  ModalPart part;
  part.critical_rad_s = mode.speed_rad_s;
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    part.shape.push_back(shape_at(beam, mode, shaft.planes[p].position_m));
    part.unbalance_kg_m += part.shape[p] * unbalance_kg_m[p];
  }
  part.covariance = covariance_in_mode(part.shape, covariance);
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

Eigen::Matrix2d covariance_in_mode(const std::vector<double>& shape, const Eigen::MatrixXd& covariance) {
  const auto planes = static_cast<Eigen::Index>(shape.size());
  Eigen::Matrix2Xd lever = Eigen::Matrix2Xd::Zero(2, 2 * planes);
  for (Eigen::Index p = 0; p < planes; ++p)
    lever.block<2, 2>(0, 2 * p) = shape[static_cast<std::size_t>(p)] * Eigen::Matrix2d::Identity();
  return lever * covariance * lever.transpose();
}

std::vector<ModalPart> modal_parts(const Shaft& shaft, const BeamSummary& beam, double highest_rad_s,
                                   const std::vector<Phasor>& unbalance_kg_m, const Eigen::MatrixXd& covariance) {
  std::vector<ModalPart> parts;
  for (const BeamMode& mode : beam.modes) {
    if (mode.speed_rad_s > 0.0 && highest_rad_s > rigid_up_to * mode.speed_rad_s)
      parts.push_back(part_of(shaft, beam, mode, unbalance_kg_m, covariance));
  }
  return parts;
}

}  // namespace counterspot
