#pragma once

#include <Eigen/Core>
#include <vector>

#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// σ of every kind of scatter: clamping, each, smooth, along the bed, over speed.
using ScatterParts = Eigen::Vector<double, 5>;
ScatterParts parts_of(const RigScatter& scatter);
RigScatter scatter_of(const ScatterParts& parts);
RigScatter physics_alone(RigScatter scatter);

/// A job's coefficients around θ: a = alpha + by_theta·dθ + by_clamping·c + by_shaft·s + size·(smooth + each).
struct LinearLesson {
  Eigen::VectorXd alpha;        ///< 4P
  Eigen::MatrixXd by_theta;     ///< 4P×θ
  Eigen::MatrixXd by_clamping;  ///< 4P×6: ln m, k, c of each pedestal
  Eigen::MatrixXd by_shaft;     ///< 4P×3: its mass, centre of mass and bending stiffness, each per standard deviation
  Eigen::VectorXd size;         ///< 4P: root-mean-square coefficient of the sensor
};

/// @param lesson which one, in time: it says which steps of a sensor lie before it.
LinearLesson linearised(const Eigen::VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson,
                        const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions);

/// α(θ) alone.
Eigen::VectorXd coefficients_at(const Eigen::VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson,
                                const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions);

/// ∂α/∂θ alone.
Eigen::MatrixXd by_theta_of(const Eigen::VectorXd& theta, const std::vector<SensorStep>& steps, std::size_t lesson,
                            const ShaftDynamics& shaft, double speed_rad_s, const std::array<Motion, 2>& motions);

/// A shaft at a speed, with its coefficients.
struct Place {
  const ShaftDynamics& shaft;
  double speed_rad_s;
  const LinearLesson& linear;
};

/// Covariance of the smooth residuals of two shafts, per σ_g²: like mass, span, centre of mass, speed and plane, like
/// residual.
Eigen::MatrixXd smooth_covariance(const Place& one, const Place& other);
/// The same of what a pedestal's stiffness differs along the bed, per σ_b².
Eigen::MatrixXd bed_covariance(const Place& one, const Place& other);
/// The same of what swings at some speeds and is in nobody's model, on a pedestal or under both, per σ_f²: a change of
/// the dynamic stiffness by −Ω² m (a + jb), and of what couples them by −Ω² √(m_A m_B) (a + jb), a and b alike at
/// speeds alike. The kernel is that of a rough function (Rasmussen & Williams 2006, 4.2.1, from memory), since a mode
/// is sharp at one speed and smooth elsewhere.
Eigen::MatrixXd speed_covariance(const Place& one, const Place& other);

/// All lessons together: misfit = values − rows·α(θ), and the parts of its covariance, n×n.
struct Assembled {
  Eigen::VectorXd misfit;
  Eigen::MatrixXd by_theta;
  Eigen::MatrixXd fixed;               ///< noise, and how well shafts' files say what they are
  std::vector<Eigen::MatrixXd> parts;  ///< per τ², σ_n², σ_g², σ_b², σ_f², in the order of `parts_of`
  std::vector<Eigen::Index> begins;    ///< first row of each lesson, and the end
  std::vector<LinearLesson> linear;

  Eigen::MatrixXd covariance(const RigScatter& scatter) const;
  Eigen::Index first(std::size_t lesson) const { return begins[lesson]; }
  Eigen::Index rows(std::size_t lesson) const { return begins[lesson + 1] - begins[lesson]; }
};
Assembled assemble(const RigModel& model);

}  // namespace counterspot
