#pragma once

#include <Eigen/Core>
#include <array>
#include <vector>

#include "rigsim/truth.hpp"

namespace rigsim {

/// The moving parts as a linear system M q̈ + C q̇ + K q = Q in the measuring direction, by Rayleigh–Ritz:
///   x(z) = N_A(z)·q_A + N_B(z)·q_B + φ(z)·q_bend,
/// N the straight lines that are 1 at one support and 0 at the other (so q_A, q_B are the movement of the pedestals,
/// and the shaft's translation and tilt are coupled through M), φ = sin(π(z − z_A)/L) the first bending shape. One
/// measuring direction; gyroscopic moments and gravity are left out, and the bearings have no play.
///
/// The force of an unbalance, in the product's conventions. The tach stands at stator angle 0, stator angles count in
/// the direction of rotation. At the tach edge (θ = 0) the mark is under the tach; a weight at shaft angle β comes β
/// later, so it stands at stator angle θ − β. The sensor stands at ψ: the weight passes it when θ = β + ψ, and its pull
/// in the measuring direction is m·r·Ω²·cos(θ − β − ψ). In lag phasors (x = A cos(θ − φ), Z = A e^{jφ}) this is
/// F = U·Ω²·e^{jψ}. Phase lag being the conjugate of the usual e^{jωt} phasor, Z = conj(H(Ω))·F with
/// H = (K + jΩC − Ω²M)⁻¹. Below resonance H is real and positive: displacement peaks towards the sensor as the weight
/// passes it. Velocity is the lag phasor times −jΩ, acceleration times −Ω².
struct MovingParts {
  Eigen::Matrix3d mass;
  Eigen::Matrix3d damping;
  Eigen::Matrix3d stiffness;
};
MovingParts moving_parts(const RigTruth& rig, const ShaftTruth& shaft);

/// (N_A, N_B, φ) at a place along the shaft.
Eigen::Vector3d shapes_at(const ShaftTruth& shaft, double position_m);

/// Σ U·(N_A, N_B, φ) of the shaft's slices and the fitted weights, turned by the sensor's angle: kg·m, lag phasors.
Eigen::Vector3cd generalised_unbalance(const RigTruth& rig, const ShaftTruth& shaft,
                                       const std::vector<UnbalanceSlice>& fitted);

/// H(ω) in the usual e^{jωt} sense, m/N.
Eigen::Matrix3cd receptance(const MovingParts& parts, double rate_rad_s);

/// Order-1 vectors at the sensors at a steady speed (lag phasors, SI, peak), AC coupling included.
std::vector<Phasor> steady_vectors(const RigTruth& rig, const ShaftTruth& shaft,
                                   const std::vector<UnbalanceSlice>& fitted, double speed_rad_s);

/// The two unbalances at two positions that a rigid shaft would feel as it feels its slices and fitted weights:
/// same sum, same moment.
std::array<Phasor, 2> rigid_equivalent(const ShaftTruth& shaft, const std::vector<UnbalanceSlice>& fitted,
                                       const std::array<double, 2>& positions_m);

/// The two unbalances at two positions that move the pedestals at this speed just as the slices and fitted weights do.
/// Differs from the rigid one by the bending, of the order of (Ω/ω_bend)² times the unbalance between the planes.
std::array<Phasor, 2> equivalent_at_speed(const RigTruth& rig, const ShaftTruth& shaft,
                                          const std::vector<UnbalanceSlice>& fitted,
                                          const std::array<double, 2>& positions_m, double speed_rad_s);

}  // namespace rigsim
