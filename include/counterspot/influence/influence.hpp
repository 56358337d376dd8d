#pragma once

#include <Eigen/Core>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/influence/least_residual.hpp"
#include "counterspot/model/rig.hpp"
#include "counterspot/tracking/sensor_level.hpp"
#include "counterspot/tracking/speed_slope.hpp"
#include "counterspot/units/angle.hpp"
#include "counterspot/units/refusal.hpp"
#include "counterspot/units/warning.hpp"

namespace counterspot {

/// A weight that is on the shaft and was not there as found.
struct FittedWeight {
  int plane = 0;           ///< index into the planes
  double mass_kg = 0.0;    ///< negative: metal removed
  double radius_m = 0.0;   ///< of its centre of mass; > 0
  double angle_rad = 0.0;  ///< shaft angle
  bool operator==(const FittedWeight&) const = default;
  Phasor unbalance_kg_m() const { return mass_kg * radius_m * phasor_at(1.0, angle_rad); }
};

/// One row of the regression: what was on the shaft, and what was read.
struct SpinReading {
  std::string label;
  std::vector<FittedWeight> fitted;          ///< all of them
  std::vector<Phasor> vectors;               ///< one per sensor, SI, peak, order 1
  std::vector<Eigen::Matrix2d> covariances;  ///< one per sensor, of (Re, Im), SI²; zero: unknown
  std::optional<double> speed_rad_s;
  /// How far the shaft's mark stands from the adapters' mark, counted against the rotation; for index balancing.
  std::optional<double> turned_rad = {};
  /// How each vector changes with speed, as far as the spin itself showed it; empty, or one per sensor.
  std::vector<std::optional<SpeedSlope>> slopes = {};
  Warnings noticed = {};                 ///< in this spin, while it was measured
  std::vector<SensorLevel> levels = {};  ///< empty, or one per sensor
};

/// What earlier shafts say of the coefficients before this one has had a trial weight: mean and covariance of
/// (Re α_11, Im α_11, Re α_12, …), sensor-major as `coefficients` below, SI of the sensor per kg·m.
struct CoefficientPrior {
  Eigen::VectorXd mean;                                                 ///< 2SP
  Eigen::MatrixXd covariance;                                           ///< 2SP×2SP, positive definite
  double degrees_of_freedom = std::numeric_limits<double>::infinity();  ///< of `covariance`: how many shafts' say it is
};

/// The unbalance of what the shaft is mounted in, from spins with the shaft turned against it (ISO 21940-14, index
/// balancing), in the shaft's planes, from the adapters' own mark.
struct AdapterShare {
  std::vector<Phasor> unbalance_kg_m;  ///< P
  Eigen::MatrixXd covariance;          ///< 2P×2P, (kg·m)²; zero if not known
};

/// Where an uncertainty of the residual comes from; the contributions that ISO 21940-14 wants known and combined.
enum class ErrorSource {
  readings,        ///< noise of the spins, and what repeats scatter by
  setting,         ///< mass and place of the weights stated
  turning,         ///< how exactly the shaft was turned against its adapters
  earlier_shafts,  ///< coefficients that other shafts taught, and how shafts differ
  adapters,        ///< their share: how well it is known, or all of it where it was not taken away
  mounting,        ///< from one mounting to the next, as the rig's qualification found it
  unseen,          ///< of a mode: what the spins' speeds and planes cannot show of it
  rig,             ///< what the rig's readings scatter by beyond their noise, as its qualification found it
};
std::string_view error_source_words(ErrorSource source);

/// One contribution.
struct ErrorShare {
  ErrorSource source{};
  Eigen::MatrixXd covariance;  ///< 2P×2P, (kg·m)²
};

struct InfluenceOptions {
  SettingUncertainty setting;
  /// Of the coefficients at the last spin's speed: further rows of the regression, m = α + e, with which one spin gives
  /// an answer. Left aside if a reading has no uncertainty, since the two could not be weighed against each other.
  std::optional<CoefficientPrior> prior;
  double refuse_condition = 1e4;  ///< above it there is no answer
  /// Of three planes and more, one whose own effect (what the planes kept cannot make) is less than this part of its
  /// effect, or less than three times its uncertainty, is left out.
  double least_own_effect = 0.01;
  /// What is known of the adapters from earlier; taken away from spins that are not turned against one another.
  std::optional<AdapterShare> adapters;
  Least least = Least::squares;          ///< of the vibration left, each sensor over the noise of its last reading
  std::vector<double> most_kg_m;         ///< the largest correction at each plane; infinity: any; empty: any at all
  std::vector<double> most_bare_kg_m;    ///< the same once `coming_off` is off; empty: `most_kg_m`
  std::vector<FittedWeight> coming_off;  ///< pieces of the last spin that are off when the bare correction is fitted
};

enum class InfluenceStatus {
  solved,
  too_few_spins,    ///< only an as-found spin, or fewer different states than planes + 1
  trials_alike,     ///< the weights of the spins do not tell the planes apart
  trial_no_effect,  ///< a trial weight changed nothing beyond the noise
  planes_alike,     ///< the sensors do not tell the planes apart (α is singular)
  too_few_sensors,  ///< fewer sensors than planes
};

struct CoefficientEstimate {
  Phasor value;                                          ///< SI of the sensor per kg·m
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im)
};
std::vector<Phasor> values_of(const std::vector<CoefficientEstimate>& estimates);

struct PlaneUnbalance {
  Phasor residual_kg_m;         ///< on the shaft at the last spin: α⁺ Z_last
  Phasor as_found_kg_m;         ///< α⁺ Z_0
  Phasor correction_kg_m;       ///< what to add to the shaft as it was at the last spin: −residual, unless limited
  std::string left_out;         ///< why this plane has no part in the answer; empty: it has
  Phasor bare_kg_m;             ///< as `residual_kg_m`, with `coming_off` off the shaft
  Phasor bare_correction_kg_m;  ///< what to add then
};

/// What belongs to one speed.
struct SpeedShare {
  std::optional<double> speed_rad_s;
  std::vector<CoefficientEstimate> coefficients;  ///< S·P, sensor-major
  std::vector<Phasor> present;                    ///< S: with the weights of the last spin of all, SI
  std::vector<Phasor> expected;                   ///< S: after the correction, SI
};

/// The regression Z_k = Z_0 + α W_k over all spins (Goodman 1964, least-squares balancing, with weights), S sensors, P
/// planes. Assumptions: the rig is linear in the weights, one speed. Readings are weighted by their covariance plus the
/// effect of the setting uncertainty, |α| being found by iteration. Failure of the numbers is a status.
struct InfluenceSummary {
  InfluenceStatus status = InfluenceStatus::too_few_spins;
  Refusal refusal;                                ///< what is wrong with the set of spins; empty if solved
  std::vector<CoefficientEstimate> coefficients;  ///< S·P, sensor-major: [s·P + p]
  std::vector<PlaneUnbalance> planes;             ///< P; of the shaft alone if it was turned against its adapters
  std::vector<SpeedShare> speeds;                 ///< one per group of spins; `coefficients` are the last one's
  std::optional<AdapterShare> adapters;           ///< if the shaft was turned against them
  /// 2P×2P of (Re U_1, Im U_1, Re U_2, …), (kg·m)²; also the covariance of what is left after exactly the correction is
  /// fitted. Zero if the uncertainty is not known.
  Eigen::MatrixXd residual_covariance;
  std::vector<ErrorShare> budget;  ///< what `residual_covariance` is the sum of; empty if it is not known
  /// What is to be added to `residual_covariance` once `coming_off` is off: how well those pieces had been set.
  Eigen::MatrixXd bare_covariance_change;
  /// P×M, rows of planes left out 0: the unbalance of all readings, group after group, sensor after sensor.
  Eigen::MatrixXcd inverse;
  double condition_number = 0.0;     ///< of α, columns scaled by their norm
  double trial_condition = 0.0;      ///< of the matrix of weights, columns scaled
  double chi_squared_per_dof = 0.0;  ///< of the regression; 0 if it has no degrees of freedom
  bool uncertainty_known = true;     ///< false if a reading came without
  Warnings warnings;

  bool usable() const { return status == InfluenceStatus::solved; }
};

/// With spins turned against the adapters the row is Z_k = Z_0 + e^{−jγ_k}·B + α W_k, B = α U_adapters.
/// @param spins in the order they were made, the last one is the shaft's present state.
/// @param planes, sensors their names, for the words; every spin has one vector and one covariance a sensor.
InfluenceSummary solve_influence(const std::vector<SpinReading>& spins, const std::vector<std::string>& planes,
                                 const std::vector<std::string>& sensors, const InfluenceOptions& options = {});

/// The same over several speeds: each group of spins has coefficients of its own, and one unbalance explains all:
///   min_U Σ_g Σ_s |z_gs − α_gs U|²/u_gs²,
/// z_g the last reading of the group, brought with α_g to the weights of the last group's last spin (Goodman 1964, more
/// rows than planes). A piece that is set badly errs the same way at all speeds.
/// @param groups the spins of each speed in the order they were made; the last group holds the last spin of all.
InfluenceSummary solve_speeds(const std::vector<std::vector<SpinReading>>& groups,
                              const std::vector<std::string>& planes, const std::vector<std::string>& sensors,
                              const InfluenceOptions& options = {});

}  // namespace counterspot
