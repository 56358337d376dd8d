#pragma once

#include <Eigen/Core>
#include <array>
#include <complex>
#include <optional>
#include <vector>

#include "counterspot/rig_model/rig_model.hpp"

namespace counterspot {

/// A shaft on the pedestals at one speed, solved once: coefficients and all their derivatives follow without another
/// inverse, from d(D⁻¹) = −D⁻¹ dD D⁻¹.
class RigResponse {
 public:
  /// @param theta as many values as some RigBodies has.
  RigResponse(const Eigen::VectorXd& theta, const ShaftDynamics& shaft, double speed_rad_s,
              const std::array<Motion, 2>& motions);

  /// As rig_coefficients gives them.
  Eigen::VectorXd coefficients() const;
  /// ∂α/∂θ, 4P×θ.
  Eigen::MatrixXd by_theta() const;
  /// dα for a change of the shaft's mass matrix.
  Eigen::VectorXd by_mass(const Eigen::Matrix4d& change_kg) const;
  /// dα for a change of the diagonal of the shaft's stiffness.
  Eigen::VectorXd by_stiffness(const Eigen::Vector4d& change_N_m) const;

 private:
  using Complex = std::complex<double>;
  /// At one speed: compliance 1 1ᵀ/b_1 + x xᵀ/b_2, and what its springs add to b_1 and b_2.
  struct Bed {
    Eigen::Vector2cd places_m;
    Complex move_N_m, tilt_N_m_rad, move_spring_N_m, tilt_spring_N_m_rad;
    double loss;
    Eigen::Matrix2cd by_move() const { return Eigen::Matrix2cd::Constant(1.0 / move_N_m); }
    Eigen::Matrix2cd by_tilt() const { return places_m * places_m.transpose() / tilt_N_m_rad; }
  };
  /// Adds w c cᵀ, w = −Ω² z/(z − Ω²).
  struct Attached {
    Eigen::Vector2cd to_root_kg;  ///< c
    Complex spring, added;        ///< z and w, 1/s²
    double loss;
    Eigen::Matrix2cd dynamic() const { return added * to_root_kg * to_root_kg.transpose(); }
  };
  static Bed bed_of(const Eigen::VectorXd& theta, double span_m, double speed_rad_s);
  static Attached attached_of(const Eigen::VectorXd& own, double speed_rad_s);
  Eigen::VectorXd stacked(const Eigen::MatrixXcd& read) const;
  Eigen::VectorXd moved_by(const Eigen::Matrix4cd& change_of_dynamic) const;
  Eigen::Matrix2cd spring_change(Eigen::Index parameter) const;
  Eigen::Matrix2cd mass_change(Eigen::Index parameter) const;
  Eigen::Matrix2cd bed_change(Eigen::Index parameter) const;
  static Eigen::Matrix2cd attached_change(const Attached& body, Eigen::Index parameter);
  Eigen::Matrix2cd pedestal_change(Eigen::Index parameter) const;

  double speed_rad_s_;
  RigBodies bodies_;
  std::array<double, 2> mass_kg_{}, stiffness_N_m_{}, damping_N_s_m_{}, corner_rad_s_{};
  std::array<double, 3> coupling_{};  ///< κ, μ, γ
  std::optional<Bed> bed_;
  std::vector<Attached> attached_;
  Eigen::Matrix2cd spring_;                          ///< F, of the pedestals and what couples them
  Eigen::Matrix2cd supported_;                       ///< (F⁻¹ + B)⁻¹: F on its bed
  std::array<Complex, 2> factor_{};                  ///< what the sensors make of a movement, in lag phasors
  Eigen::Matrix4cd receptance_;                      ///< D⁻¹, usual e^{jωt} sense, m/N
  Eigen::Matrix<Complex, 4, Eigen::Dynamic> moved_;  ///< D⁻¹ S Ω², per kg·m
};

}  // namespace counterspot
