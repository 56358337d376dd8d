#pragma once

#include <string>
#include <vector>

#include "counterspot/influence.hpp"

namespace counterspot {

/// What spins with the same weights on the shaft scatter by at one sensor beyond the noise of each: the shaft seated
/// anew, bolts, temperature.
struct RepeatScatter {
  std::string sensor;
  int spins = 0;               ///< that have a like
  int degrees_of_freedom = 0;  ///< two for every spin of a group but one
  double noise = 0.0;          ///< SI: root mean square of their stated standard uncertainties, of either part
  double scatter = 0.0;        ///< SI: standard deviation of either part within the groups
  double added = 0.0;          ///< SI: standard uncertainty added to either part of every spin; 0 if chance explains it
};

/// Estimates the scatter of each sensor, pooled over all groups of spins with the same weights (GUM, JCGM
/// 100:2008, 4.2.4: pooled estimate of variance), and adds what goes beyond the noise to the covariance of every spin,
/// since every one of them is seated anew. Beyond means that noise alone scatters so in one case of three
/// (chi-squared). An estimate of d degrees of freedom is enlarged by d(0.05^{−2/d} − 1)/(−2 ln 0.05), so that the 95 %
/// region taken with k² = 5.99 holds (F distribution with 2 and d degrees of freedom; the plane's counterpart of the t
/// factor of GUM, G.3).
/// @param spins at one speed. @return one entry a sensor; empty if no weights are repeated.
std::vector<RepeatScatter> add_repeat_scatter(std::vector<SpinReading>& spins, const std::vector<std::string>& sensors);

/// Takes spins with the same weights together: the mean weighted by the inverse covariances, at the place of the last
/// of them; without a covariance the plain mean.
std::vector<SpinReading> merge_repeats(const std::vector<SpinReading>& spins);

/// Holds every spin against what the others lead one to expect and names the faults of the rig that would explain a
/// difference (see compare_readings), with the spin's label:
///  - against the first spin with the same weights;
///  - else, with a prior, against the first spin and the prior's coefficients times the change of weights;
///  - else against the regression of all other spins, if they suffice; nothing is said if that accuses more than one.
/// @param spins at one speed.
Warnings compare_spins(const std::vector<SpinReading>& spins, const std::vector<std::string>& planes,
                       const std::vector<std::string>& sensors, const InfluenceOptions& options);

}  // namespace counterspot
