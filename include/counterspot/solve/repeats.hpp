#pragma once

#include <optional>
#include <string>
#include <vector>

#include "counterspot/influence/influence.hpp"

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
/// @param spins at one speed. @return one entry per sensor; empty if no weights are repeated.
std::vector<RepeatScatter> add_repeat_scatter(std::vector<SpinReading>& spins, const std::vector<std::string>& sensors);

/// Adds a part of each reading to the uncertainty of either part of it: what spins scatter by where no repeats tell.
/// Readings without an uncertainty keep none.
void add_assumed_scatter(std::vector<SpinReading>& spins, double fraction);

/// What spins scatter by from one to the next with nothing changed, beyond their noise, as a part of the reading:
/// pooled over all neighbouring spins of the same weights, speed and turning in all jobs and sensors, and enlarged for
/// few of them as `RepeatScatter::added` is. Empty if they are fewer than five pairs.
/// @param jobs the spins of each, in order.
std::optional<double> repeat_fraction_of(const std::vector<std::vector<SpinReading>>& jobs);

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

/// Names the sensors whose noise beside the orders is not what it is in the other spins of about the same speed
/// (`sensor_changed`), or is that of each other (`swapped_sensors`). Each band of a spin is held against the median of
/// all spins, with two spins the later against the earlier:
///  - the same factor in all bands, 1.5 and more, is a change of gain or mounting;
///  - another spectrum is said from a factor of 3 on, since the running rig makes noise of its own.
/// @param earlier spins of other jobs, the newest first; they count if the set itself has nothing to compare with, from
/// a factor of 3 on.
Warnings compare_levels(const std::vector<SpinReading>& spins, const std::vector<std::string>& sensors,
                        const std::vector<SpinReading>& earlier = {});

}  // namespace counterspot
