#pragma once

#include <Eigen/Core>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/shaft.hpp"
#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/angle.hpp"

namespace counterspot {

/// How a rigid rotor feels its unbalance: the sum, and its moment about the centre of mass (ISO 21940-2: resultant and
/// couple unbalance).
struct RigidParts {
  Phasor static_kg_m;
  Phasor couple_kg_m2;
};
/// @param unbalance_kg_m one per plane of the shaft; about the middle of the supports if no centre of mass is stated,
/// of the planes if there are no supports.
RigidParts rigid_parts(const Shaft& shaft, const std::vector<Phasor>& unbalance_kg_m);

/// Equivalent n-th modal unbalance: the single unbalance that, where the mode swings most, excites it as the shaft's
/// unbalance does: Σ φ_n(z_p) U_p with the largest |φ_n| = 1 (ISO 21940-12).
struct ModalPart {
  double critical_rad_s = 0.0;
  Phasor unbalance_kg_m;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< (kg·m)², with what the spins cannot show
  std::vector<double> shape;                             ///< φ_n at the planes
  double limit_kg_m = 0.0;                               ///< `modal_share` of the total
  double u_unseen_kg_m = 0.0;  ///< standard, of each part: what the spins' speeds and planes cannot show of this mode
};

/// A shaft counts as flexible for a mode whose critical speed is under the shaft's highest speed over this (common
/// practice, no source; the same fraction as the safe speed).
inline constexpr double rigid_up_to = largest_speed_fraction;

/// The permissible equivalent first and second modal unbalance as a part of the total of ISO 21940-11 (ISO 21940-12,
/// from memory: 60 % where the mode matters).
inline constexpr double modal_share = 0.6;

/// Of the modes that the highest speed makes matter; empty for a rigid shaft or one whose tube or supports are not
/// known.
/// @param beam of the shaft. @param covariance 2P×2P, (kg·m)².
std::vector<ModalPart> modal_parts(const Shaft& shaft, const BeamSummary& beam, double highest_rad_s,
                                   const std::vector<Phasor>& unbalance_kg_m, const Eigen::MatrixXd& covariance);

/// Of Σ φ_n(z_p) U_p. @param covariance 2P×2P.
Eigen::Matrix2d covariance_in_mode(const std::vector<double>& shape, const Eigen::MatrixXd& covariance);

/// What the readings of the spins cannot show of a mode, since they were made far under its critical speed or since the
/// planes cannot stand in for what lies between them. The unbalance of a shaft is spread along it; a unit of it at z is
/// read as α(z), the planes' answer to that is w(z) = α⁺ α(z), and a mode is missed by e_n(z) = φ_n(z) − Σ φ_n(z_p)
/// w_p(z). α(z) of each sensor at each speed is drawn between the planes' coefficients by what reaches the supports,
///   f(z) = lever(z) + Σ_n r_n φ_n(z) Ω²/(m_n (ω_n² − Ω² − 2jζω_nΩ)),  r_n = ∫ lever·μ φ_n,  m_n = ∫ μ φ_n²
/// (equilibrium of the shaft, its own bending taken by modes; any textbook of rotor dynamics), and by the first modes.
/// With an unbalance of even density q along the shaft, E|δU_n|² = q ∫|e_n|² dz. q is what the shaft showed at its
/// supports as found, with Student's t for the four numbers that this rests on (2.78 over 2), and at least such that
/// the whole shaft has `least_kg_m`. Weights that are fitted where the answer has no part are missed by e_n times their
/// size.
struct UnseenBasis {
  const InfluenceSummary& influence;  ///< with coefficients at every speed
  std::vector<FittedWeight> fitted;   ///< at the last spin
  double least_kg_m = 0.0;
};
void add_unseen(const Shaft& shaft, const BeamSummary& beam, const UnseenBasis& basis, std::vector<ModalPart>& modes);

}  // namespace counterspot
