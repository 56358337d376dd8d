#include "counterspot/guide/live_vectors.hpp"

#include <algorithm>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr std::size_t most_spins = 100;  // of a job: solved within some 20 ms

SpinReading as_spin(const LiveJob& job, const LiveReading& reading) {
  SpinReading spin;
  spin.fitted = job.on_shaft;
  // A piece of no mass: else it would be taken together with an earlier spin of the same weights, and show that one.
  spin.fitted.push_back({});
  spin.speed_rad_s = reading.speed_rad_s;
  for (const LiveReading::Sensor& sensor : reading.sensors) {
    spin.vectors.push_back(sensor.vector.value);
    spin.covariances.push_back(sensor.vector.covariance);
  }
  return spin;
}

}  // namespace

LiveJob live_job(const KnownJob& known) {
  const JobState state = state_of(known.job.events);
  return {known.job.rig(),         known.job.shaft(),         state.on_shaft, readings_of(state), motions_of(state),
          known.analysis.solution, known.analysis.solved_with};
}

std::vector<LiveVector> live_vectors(const LiveJob& job, const LiveReading& reading) {
  std::vector<LiveVector> now;
  if (reading.sensors.empty() || reading.motion.turning != Turning::turning) return now;
  const auto heard = [](const LiveReading::Sensor& sensor) { return sensor.signal == LiveSignal::good; };
  if (!std::all_of(reading.sensors.begin(), reading.sensors.end(), heard)) return now;
  if (!job.solution) {
    for (const LiveReading::Sensor& sensor : reading.sensors)
      now.push_back({sensor.vector.value, sensor.vector.covariance});
    return now;
  }
  if (job.spins.size() > most_spins) return now;
  std::vector<SpinReading> spins = job.spins;
  spins.push_back(as_spin(job, reading));
  try {
    const Solution solution = solve_readings(job.rig, job.shaft, spins, job.motions, job.solved_with);
    for (const PlaneSolution& plane : solution.planes) now.push_back({plane.residual_kg_m, plane.residual_covariance});
  } catch (const Error&) {  // NOLINT(bugprone-empty-catch): another speed than that of the spins, so nothing is shown
  }
  return now;
}

}  // namespace counterspot
