#pragma once

#include <Eigen/Core>
#include <vector>

#include "counterspot/angle.hpp"
#include "counterspot/beam.hpp"
#include "counterspot/shaft.hpp"

namespace counterspot {

/// How a rigid rotor feels its unbalance: the sum, and its moment about the centre of mass (ISO 21940-2: resultant and
/// couple unbalance).
struct RigidParts {
  Phasor static_kg_m;
  Phasor couple_kg_m2;
};
/// @param unbalance_kg_m one a plane of the shaft; about the middle of the supports if no centre of mass is stated, of
/// the planes if there are no supports.
RigidParts rigid_parts(const Shaft& shaft, const std::vector<Phasor>& unbalance_kg_m);

/// Equivalent n-th modal unbalance: the single unbalance that, where the mode swings most, excites it as the shaft's
/// unbalance does: Σ φ_n(z_p) U_p with the largest |φ_n| = 1 (ISO 21940-12).
struct ModalPart {
  double critical_rad_s = 0.0;
  Phasor unbalance_kg_m;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< (kg·m)²
};

/// A shaft counts as flexible for a mode whose critical speed is under the shaft's highest speed over this (common
/// practice, no source; the same fraction as the safe speed).
inline constexpr double rigid_up_to = largest_speed_fraction;

/// The permissible equivalent first and second modal unbalance as a part of the total of ISO 21940-11 (ISO 21940-12,
/// from memory: 60 % where the mode matters).
inline constexpr double modal_share = 0.6;

/// Of the modes that the highest speed makes matter, at most two; empty for a rigid shaft or one whose tube or supports
/// are not known.
/// @param covariance 2P×2P, (kg·m)². @throws Error as critical_speeds.
std::vector<ModalPart> modal_parts(const Shaft& shaft, double highest_rad_s, const std::vector<Phasor>& unbalance_kg_m,
                                   const Eigen::MatrixXd& covariance);

}  // namespace counterspot
