#pragma once

#include <Eigen/Core>
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/model/shaft.hpp"

namespace counterspot {

/// What stays the same from one shaft to the next is the rig: two pedestals, what couples them, two sensors. With the
/// shaft's own body on top (its file says it) the influence coefficients follow, also of a shaft that was never spun.
/// For one sensor at each of two supports; other rigs have no such model.

/// A shaft as it moves on two pedestals: x(z) = N_A(z) q_A + N_B(z) q_B + φ_1(z) q_1 + φ_2(z) q_2, N the straight lines
/// that are 1 at one support and 0 at the other, φ its first two modes on supports that do not give (R. R. Craig &
/// M. C. C. Bampton, AIAA J. 6(7), 1968, 1313–1319: constraint modes and fixed-interface modes; two supports are
/// statically determinate, so the straight lines store no strain and K is diagonal).
struct ShaftDynamics {
  static constexpr int freedoms = 4;
  Eigen::Matrix4d mass_kg = Eigen::Matrix4d::Zero();           ///< ∫ s sᵀ dm, s = (N_A, N_B, φ_1, φ_2)
  Eigen::Vector4d stiffness_N_m = Eigen::Vector4d::Zero();     ///< the diagonal of K: 0, 0, ω_n² M_nn
  Eigen::Matrix<double, 4, Eigen::Dynamic> plane_shapes = {};  ///< column p: s at plane p
  Eigen::Matrix4d heavier_kg = Eigen::Matrix4d::Zero();        ///< dM per part by which the shaft weighs more
  Eigen::Matrix4d shifted_kg = Eigen::Matrix4d::Zero();        ///< dM per part of the span its centre is nearer to B
  double total_kg = 0.0;
  double span_m = 0.0;                       ///< between the supports, > 0
  double center_fraction = 0.5;              ///< of the centre of mass, 0 at A, 1 at B
  bool center_stated = false;                ///< by the file, or by all masses in it
  std::vector<double> plane_fractions = {};  ///< one per plane, 0 at A, 1 at B
};

/// @return empty where the file does not say enough: mass, supports A and B alone, tube or sections.
/// @throws Error as critical_speeds.
std::optional<ShaftDynamics> dynamics_of(const Shaft& shaft);

/// θ of a rig: for each pedestal moving mass, stiffness, damping, and the gain, angle and high-pass corner of its
/// sensor; then what couples the pedestals through the base. At one speed this is the most general reciprocal rig under
/// two one-axis pedestals; over speeds it is an approximation, and a bad one where the bed resonates at one of them.
/// Where the lessons say so there are bodies beside them: the bed, a plate on its feet that moves and tilts; and
/// attached bodies, which swing by themselves on one pedestal or both (a guard, a bracket, a hose). Theirs stand behind
/// the others, the attached bodies' behind the bed's.
struct RigParameters {
  static constexpr Eigen::Index of_pedestal = 6;
  static constexpr Eigen::Index count = 15;
  static constexpr Eigen::Index ln_mass(Eigen::Index pedestal) { return of_pedestal * pedestal; }           // kg
  static constexpr Eigen::Index ln_stiffness(Eigen::Index pedestal) { return of_pedestal * pedestal + 1; }  // N/m
  static constexpr Eigen::Index ln_damping(Eigen::Index pedestal) { return of_pedestal * pedestal + 2; }    // N·s/m
  static constexpr Eigen::Index ln_gain(Eigen::Index pedestal) { return of_pedestal * pedestal + 3; }       // read/true
  static constexpr Eigen::Index gain_rad(Eigen::Index pedestal) { return of_pedestal * pedestal + 4; }      // lag
  static constexpr Eigen::Index ln_corner(Eigen::Index pedestal) { return of_pedestal * pedestal + 5; }     // Hz
  static constexpr Eigen::Index coupling_stiffness = 12;  ///< κ, of √(k_A k_B)
  static constexpr Eigen::Index coupling_mass = 13;       ///< μ, of √(m_A m_B)
  static constexpr Eigen::Index coupling_damping = 14;    ///< γ, of √(k_A k_B), at 160 rad/s
  static constexpr Eigen::Index of_bed = 6;
  static constexpr Eigen::Index bed_ln_mass = 15;     // kg
  static constexpr Eigen::Index bed_ln_move = 16;     ///< how often it moves up and down by itself, Hz
  static constexpr Eigen::Index bed_ln_tilt = 17;     ///< and tilts, Hz
  static constexpr Eigen::Index bed_ln_loss = 18;     ///< of its feet: imaginary per real part of their stiffness
  static constexpr Eigen::Index bed_ln_radius = 19;   ///< of gyration, m
  static constexpr Eigen::Index bed_off_center = 20;  ///< where the middle of the supports stands to its centre, m to B
  static constexpr Eigen::Index of_attached = 4;
  // From an attached body's first on:
  static constexpr Eigen::Index attached_to(Eigen::Index pedestal) { return pedestal; }  ///< c, √kg: its mass is c²
  static constexpr Eigen::Index attached_ln_rate = 2;                                    ///< how often it swings, Hz
  static constexpr Eigen::Index attached_ln_loss = 3;  ///< of its spring: imaginary per real part
};

/// Which bodies a rig has beside shaft and pedestals.
struct RigBodies {
  static constexpr int attached_at_most = 2;
  bool bed = false;
  int attached = 0;
  int count() const { return (bed ? 1 : 0) + attached; }
  Eigen::Index parameters() const { return attached_first(attached); }
  /// Where in θ an attached body begins.
  Eigen::Index attached_first(int body) const {
    return RigParameters::count + (bed ? RigParameters::of_bed : 0) + body * RigParameters::of_attached;
  }
  /// Of so many parameters; empty if no rig has so many.
  static std::optional<RigBodies> of(Eigen::Index parameters);
  bool operator==(const RigBodies&) const = default;
};

/// What a sensor at each pedestal reads of a unit of unbalance in each plane, SI per kg·m, phase as lag:
///   α = diag(g e^{jφ} h*(Ω)) · d(Ω) · conj{ A [K_s + A^T K_p A + jΩ A^T C_p A − Ω² (M_s + A^T M_p A)]⁻¹ S } · Ω²,
/// A = (1 0 0 0; 0 1 0 0) the supports, S the shapes at the planes, K_p, C_p, M_p the pedestals', h = jΩ/(Ω_c + jΩ) the
/// sensor's high pass, d what the sensor differentiates (1, −jΩ, −Ω² in lag phasors). On a bed that moves, the
/// pedestals' springs K_p + jΩ C_p = F stand on its compliance B = 1 1ᵀ/b_1 + x xᵀ/b_2: (F⁻¹ + B)⁻¹ in place of F, x
/// the supports' places from its centre, b_1 = M (Ω_1²(1 + jη) − Ω²), b_2 = M r² (Ω_2²(1 + jη) − Ω²). An attached body
/// adds −Ω² c cᵀ z/(z − Ω²) to what the pedestals' masses do, z = Ω_3²(1 + jη_3): a mass on a spring (J. P. Den Hartog,
/// Mechanical Vibrations, 3.2, the undamped absorber, from memory), which far below its own frequency is only heavy.
/// @param theta as many values as some RigBodies has.
/// @return (Re α_A1, Im α_A1, Re α_A2, …), sensor-major as CoefficientPrior.
Eigen::VectorXd rig_coefficients(const Eigen::VectorXd& theta, const ShaftDynamics& shaft, double speed_rad_s,
                                 const std::array<Motion, 2>& motions);

/// What the spins of one job at one speed say of its coefficients, Z_0 integrated out: values = rows·a + noise, the
/// noise of unit variance and independent. At most one row an unknown, however many spins there were.
struct RigLesson {
  std::string job;  ///< its uid; lessons of one job share one clamping
  std::int64_t at_unix_s = 0;
  ShaftDynamics shaft;
  double speed_rad_s = 0.0;
  std::array<Motion, 2> motions{Motion::acceleration, Motion::acceleration};
  Eigen::MatrixXd rows;     ///< n×4P, per SI of the sensor per kg·m
  Eigen::VectorXd values;   ///< n
  bool brought_in = false;  ///< from another log
};

/// One standard deviation each, as parts.
struct RigScatter {
  double clamping = 0.02;   ///< τ: of a pedestal's m, k and c from one clamping to the next
  double each = 0.015;      ///< σ_n: of a shaft's coefficients beside all else
  double smooth = 0.03;     ///< σ_g: what the physics lacks, smooth over mass, span, centre of mass, speed and plane
  double along_bed = 0.03;  ///< σ_b: of a pedestal's stiffness along the bed
  /// σ_f: what swings on a pedestal at some speeds, as a part of its moving mass; in phase and out of phase.
  double over_speed = 0.02;
  bool operator==(const RigScatter&) const = default;
};

/// From lesson `lesson` on, the sensor at a pedestal reads otherwise: it was changed, or moved.
struct SensorStep {
  std::size_t lesson = 0;
  Eigen::Index pedestal = 0;
  double ln_gain = 0.0;   ///< what it reads more by
  double gain_rad = 0.0;  ///< and later by
};

struct SetAside {
  std::size_t lesson = 0;
  double chi_squared = 0.0;  ///< of its leave-one-out residual
  int degrees = 0;
  double ln_enlarged = 0.0;  ///< while learning: logarithm of what its scatter was enlarged by, over all rows
};

enum class RigKind { soft, hard };

/// Which of the rig's models is meant: each has its own prior.
struct RigForm {
  RigKind kind = RigKind::soft;
  RigBodies bodies = {};
  bool operator==(const RigForm&) const = default;
};

/// What is learnt of a rig.
struct RigModel {
  RigKind kind = RigKind::soft;
  std::array<KnownPedestal, 2> pedestals;  ///< what its owner said of them
  std::vector<RigLesson> lessons;          ///< oldest first
  Eigen::VectorXd theta;                   ///< of the rig and its bodies, then ln gain and angle of each step
  Eigen::MatrixXd covariance;              ///< of theta
  RigScatter scatter;
  std::vector<SensorStep> steps;
  std::vector<SetAside> set_aside;  ///< they do not fit; their own scatter is enlarged
  double ln_evidence = 0.0;         ///< Laplace

  Eigen::Index of_step(std::size_t step) const {  ///< where in theta
    return theta.size() - 2 * static_cast<Eigen::Index>(steps.size() - step);
  }
  RigForm form() const { return {kind, *RigBodies::of(of_step(0))}; }
};

struct RigLearningOptions {
  bool statistics = true;                       ///< false: physics alone, to see what the rest earns
  bool scatters = true;                         ///< false: θ alone, with the usual scatters; for a first look
  bool faults = true;                           ///< look for jobs that do not fit and for sensors that were changed
  std::optional<RigForm> form = {};             ///< empty: what the lessons say
  std::array<KnownPedestal, 2> pedestals = {};  ///< what its owner knows of them
  std::optional<Eigen::VectorXd> start = {};    ///< θ of before: sooner done, same answer
  /// Of what is foretold, for all that the model lacks (tried, no source).
  double enlarge_u = 1.1;
};

/// Gauss–Newton on the posterior of θ, everything else that scatters integrated out (Gaussian), scatters by marginal
/// likelihood with lognormal priors (D. J. C. MacKay, Neural Computation 4, 1992, from memory; M. C. Kennedy &
/// A. O'Hagan, J. R. Stat. Soc. B 63, 2001, 425: calibration with a discrepancy).
/// @param lessons oldest first. @return empty without lessons, or if the numbers fail.
std::optional<RigModel> learn_rig(const std::vector<RigLesson>& lessons, const RigLearningOptions& options = {});

/// Mean and covariance of the coefficients of a shaft that was not spun yet: kriging with the linearised physics as its
/// trend (C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, 2.7, from memory).
CoefficientPrior predict(const RigModel& model, const ShaftDynamics& shaft, double speed_rad_s,
                         const std::array<Motion, 2>& motions, const RigLearningOptions& options = {});
/// The same at several speeds.
std::vector<CoefficientPrior> predict(const RigModel& model, const ShaftDynamics& shaft,
                                      const std::vector<double>& speeds_rad_s, const std::array<Motion, 2>& motions,
                                      const RigLearningOptions& options = {});

}  // namespace counterspot
