#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"
#include "counterspot/units/refusal.hpp"

namespace counterspot {

/// A spin whose phase is not known (the tach is dead).
struct AmplitudeReading {
  std::string label;
  std::vector<FittedWeight> fitted;  ///< all of them
  std::vector<double> amplitudes;    ///< one per sensor, SI, peak, order 1, ≥ 0
  std::vector<double> u_amplitudes;  ///< their standard uncertainties, SI, > 0
};

/// One unbalance that explains the amplitudes.
struct AmplitudeCandidate {
  std::vector<Phasor> as_found_kg_m;  ///< P
  std::vector<Phasor> residual_kg_m;  ///< P, with what the last spin carried
  Eigen::MatrixXd covariance;         ///< 2P×2P, (kg·m)², of both
  /// S×P, SI of the sensor per kg·m, each row over the reading's standard uncertainty at the last spin and turned by a
  /// phase that nobody knows.
  Eigen::MatrixXcd response;
  double chi_squared = 0.0;
};

struct AmplitudeSummary {
  bool usable = false;
  Refusal refusal;                             ///< what is wrong with the set of spins; empty if usable
  std::vector<AmplitudeCandidate> candidates;  ///< the likeliest first; more than one: the spins do not decide
  int degrees_of_freedom = 0;
};

/// Unbalance from amplitudes alone:
///   A_sk = |Σ_p α_sp (U_p + W_kp)|, each sensor's α known up to a phase of its own, which does not matter to U.
/// In one plane with three trial positions this is the well-known construction of three circles; three unknowns and
/// one more for each sensor: two trial positions leave two answers (mirror images). In P planes a sensor has 2(1 + P) −
/// 1 unknowns, so 2P + 2 spins decide as a rule. By weighted least squares (Levenberg–Marquardt) from many starts; all
/// answers that the amplitudes do not exclude are given. Not for shafts so near balance that noise hides the amplitude.
/// @param spins every one with one amplitude a sensor; @param sensors ≥ planes.
AmplitudeSummary solve_amplitudes(const std::vector<AmplitudeReading>& spins, int planes,
                                  const SettingUncertainty& setting = {});

}  // namespace counterspot
