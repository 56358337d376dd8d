#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/log/log.hpp"

namespace counterspot {

/// What trends are sorted by: the week of the close (ISO 8601, "2026-W48"), the rig, or the family of shafts.
enum class Grouping { week, rig, family };

/// The closed jobs of one group.
struct TrendGroup {
  std::string group;
  int closed = 0;
  int within = 0;
  int outside = 0;
  int unsure = 0;
  int without_final = 0;  ///< closed with a reason instead of a final spin
  double median_spins = 0.0;
  std::optional<double> median_ratio;  ///< final residual over limit; empty if no job has one
  std::optional<double> highest_ratio;

  /// Within limit, of all that were closed. [0, 1]
  double yield_fraction() const { return closed > 0 ? static_cast<double>(within) / closed : 0.0; }
};
/// Groups in ascending order; open jobs do not count.
std::vector<TrendGroup> trend_of(const std::vector<JobOverview>& jobs, Grouping grouping);

/// "2026-W48": ISO 8601, weeks start on Monday, week 1 holds the year's first Thursday.
std::string iso_week(std::int64_t unix_s);

/// Shewhart's chart of single values with moving ranges of two (ISO 7870-2:2013; D. C. Montgomery, *Introduction to
/// Statistical Quality Control*, 6.4): centre = mean, limits = mean ± 3·MR/1.128.
struct ControlChart {
  double centre = 0.0;
  double lower = 0.0;  ///< not under 0: a ratio has no negative values
  double upper = 0.0;
  std::vector<std::size_t> beyond;  ///< indices of values outside the limits
};
/// Empty for fewer than 2 values, which have no moving range.
std::optional<ControlChart> control_chart(const std::vector<double>& values);

/// How closely spins of an unchanged shaft agree: standard deviation of one part (Re or Im) of one sensor's vector,
/// pooled over all groups of spins with the same weights on, within a job (ISO 5725-2: repeatability standard
/// deviation).
struct Repeatability {
  std::string sensor;
  Motion motion = Motion::acceleration;
  double deviation_si = 0.0;  ///< of Re and of Im, SI
  int degrees_of_freedom = 0;
};
/// Of all jobs of a log, one after the other, without keeping them.
class RepeatedSpins {
 public:
  void add(const Job& job);
  /// One for each sensor that has a repeated spin. Spins are brought to the first one's speed.
  std::vector<Repeatability> repeatability() const;

 private:
  struct Pooled {
    Motion motion = Motion::acceleration;
    double sum_si2 = 0.0;
    int degrees = 0;  // of freedom, of each part
  };
  void pool(const std::vector<const StandingSpin*>& run);
  std::map<std::string, Pooled> by_sensor_;
};
std::vector<Repeatability> repeatability_of(const std::vector<Job>& jobs);

/// A gauge study of a rig with one shaft that is left as it is: every mounting is a row of repeated measurements of one
/// plane's unbalance (kg·m). Nested analysis of variance (ISO 5725-2; GUM H.5): σ_repeat² = mean square within
/// mountings; σ_mount² = (mean square between − within)/n₀, not under zero.
struct GaugeStudy {
  int mountings = 0;
  int spins = 0;
  double repeat_kg_m = 0.0;  ///< one standard deviation of one part of the vector, spin to spin
  double mount_kg_m = 0.0;   ///< the same, mounting to mounting
  double total_kg_m = 0.0;   ///< both
};
/// Empty with fewer than 2 mountings or no mounting with 2 spins.
std::optional<GaugeStudy> gauge_study(const std::vector<std::vector<Phasor>>& mountings);

/// The same from the log: each job of that shaft is one mounting, its spins with unchanged weights are the repeats, and
/// `plane` the index of the plane. Uses the residuals found at the time of each spin.
std::vector<std::vector<Phasor>> mountings_of(const std::vector<Job>& jobs, std::size_t plane);

/// One sensor's coefficients from job to job on one rig with one family of shafts: what drifts is the rig.
struct CoefficientTrend {
  std::string rig;
  std::string family;
  std::string sensor;
  std::vector<std::string> jobs;  ///< oldest first
  /// How each job's readings answered to changes of its weights, against the mean coefficients ᾱ of the first jobs: the
  /// slope of Z over Σ_p ᾱ_p·W_p. 1 if nothing changed; 0.9: the sensor shows a tenth less.
  std::vector<Phasor> ratios;
  double band = 0.0;  ///< |q − 1| of a rig that has not changed stays under it, but for one job in a thousand
  std::vector<std::size_t> beyond;  ///< of the jobs after the first ones
  std::optional<std::size_t>
      since;  ///< where the jobs begin that are all beyond, up to the last, if they are two or more
};

/// Of how many jobs the band is found.
inline constexpr std::size_t first_jobs_of_band = 8;

/// Jobs with two spins or more whose weights stand out of the noise, at speeds within 2 % of the first such job's;
/// groups with more than `first_jobs_of_band` of them. Assumption: within a family coefficients scatter from shaft to
/// shaft by chance, alike in both parts of q. With s² = Σ|q − 1|²/(2(n − 1)) over the first n, |q − 1|²/(2s²(1 + 1/n))
/// follows F (s² no less than the rig's setting uncertainty makes) with 2 and ν = 2(n − 1) degrees of freedom, whose
/// upper tail is closed, P(F > f) = (1 + 2f/ν)^(−ν/2).
/// @param jobs oldest first, as Log::for_each_job gives them.
std::vector<CoefficientTrend> coefficient_trends(const std::vector<Job>& jobs);

}  // namespace counterspot
