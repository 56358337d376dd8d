#pragma once

#include <optional>
#include <vector>

#include "counterspot/guide/guide.hpp"
#include "counterspot/tracking/live_tracking.hpp"

namespace counterspot {

/// What a job knows that is needed to say what its shaft shows while it turns; a value of its own, so that whoever
/// follows the rig never waits for the log.
struct LiveJob {
  Rig rig;
  Shaft shaft;
  std::vector<FittedWeight> on_shaft;
  std::vector<SpinReading> spins;
  std::vector<Motion> motions;
  std::optional<Solution> solution;  ///< of the spins; empty while they do not suffice
  SolveOptions solved_with;
};
LiveJob live_job(const KnownJob& known);

/// At a plane, kg·m, as soon as the job's spins told what a weight there does; at a sensor, SI, until then.
struct LiveVector {
  Phasor value;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (Re, Im)
};

/// What each plane, or each sensor, shows now. What is out of balance comes from the same regression as the job's
/// (`solve_readings`) with what is read now as its last spin, so that its ± holds what the coefficients are unsure by.
/// Empty while there is nothing to show: no vectors, a sensor that gives nothing or may give nothing (both sensors'
/// part is in every plane), a speed at which the coefficients do not hold, or more spins than can be solved as often as
/// the shaft is read. It is no verdict.
std::vector<LiveVector> live_vectors(const LiveJob& job, const LiveReading& reading);

}  // namespace counterspot
