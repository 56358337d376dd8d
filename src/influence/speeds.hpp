#pragma once

#include <Eigen/Core>
#include <vector>

#include "influence/design_matrix.hpp"
#include "influence/regression.hpp"

namespace counterspot {

/// The spins of one speed with their regression.
struct SpeedGroup {
  const std::vector<SpinReading>* spins = nullptr;
  Design design;
  const CoefficientPrior* prior = nullptr;        ///< of this speed's coefficients
  std::vector<Regression> fits;                   ///< one per sensor; with a prior one of all sensors
  std::vector<CoefficientEstimate> coefficients;  ///< S·P, sensor-major
  std::vector<Phasor> as_found, adapters;         ///< S each: Z_0; B if turned
  Eigen::VectorXcd lacking_kg_m;      ///< P: weights now on the shaft that this group's last spin did not carry
  std::vector<FittedWeight> on, off;  ///< the pieces that make `lacking`

  const CoefficientEstimate& coefficient(std::size_t sensor, Eigen::Index plane) const {
    return coefficients[sensor * static_cast<std::size_t>(design.plane_count) + static_cast<std::size_t>(plane)];
  }
  std::size_t sensors() const { return as_found.size(); }

  const SpinReading& last() const { return spins->back(); }
};

/// @param options its prior is of the last group, unless `weighted` is false.
std::vector<SpeedGroup> groups_of(const std::vector<std::vector<SpinReading>>& spins, int plane_count,
                                  std::size_t sensors, const InfluenceOptions& options, bool weighted);

/// α of all groups, sensor after sensor, group after group: M×P.
Eigen::MatrixXcd all_coefficients(const std::vector<SpeedGroup>& groups);
/// What every sensor reads at every speed with the present weights, the adapters' share taken away.
Eigen::VectorXcd present_readings(const std::vector<SpeedGroup>& groups);
Eigen::VectorXcd as_found_readings(const std::vector<SpeedGroup>& groups);
Eigen::VectorXcd adapter_readings(const std::vector<SpeedGroup>& groups);
/// 1 over the noise of each sensor's last reading; 1 where no uncertainty is known.
Eigen::VectorXd row_weights(const std::vector<SpeedGroup>& groups, bool weighted);

/// Which errors reach an unbalance X = α⁺ z.
enum class Errors {
  of_present,  ///< z = Z_last + α·lacking − e^{−jγ} B
  of_adapters  ///< z = B
};

/// Of an unbalance, by where it comes from.
struct Covariances {
  Eigen::MatrixXd readings, prior, setting, turning;

  Eigen::MatrixXd sum() const { return readings + prior + setting + turning; }
};

/// First-order propagation (GUM, JCGM 100:2008, 5.1) of every independent error to X = α⁺ z: δX = α⁺ (δz − δα X), where
/// a reading's error moves α and, in the last spin, z; a prior's moves α; a badly set piece moves α, and z if it is of
/// `lacking`.
/// A mounting turned too far moves the readings of its spins.
/// @param inverse P×M. @return 2P×2P each.
Covariances covariance_of(const std::vector<SpeedGroup>& groups, const Eigen::MatrixXcd& inverse,
                          const Eigen::VectorXcd& unbalance, Errors errors);

}  // namespace counterspot
