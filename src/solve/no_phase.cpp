#include "counterspot/solve/no_phase.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "counterspot/solve/plan.hpp"
#include "counterspot/tracking/amplitude_track.hpp"
#include "counterspot/units/error.hpp"
#include "influence/correction.hpp"
#include "solve/same_recording.hpp"

namespace counterspot {

namespace {

AmplitudeTrack measured_amplitudes(const AmplitudeSpin& spin, const Rig& rig) {
  try {
    RecordingOptions options = recording_options(rig);
    return track_amplitudes(*open_recording(spin.recording, options), rig, spin.speed_rad_s);
  } catch (const Error& error) {
    throw Error(error.trouble(), error.code(), fmt::format("spin '{}': {}", spin.reading.label, error.what()),
                error.remedy());
  }
}

void refuse_same_files(const std::vector<AmplitudeSpin>& spins) {
  std::vector<SpinRecording> recordings;
  for (const AmplitudeSpin& spin : spins)
    if (!spin.recording.empty()) recordings.push_back({spin.reading.label, spin.recording, spin.reading.fitted, {}});
  refuse_same_recordings(recordings);
}

/// Every spin with its amplitudes, recorded ones measured.
std::vector<AmplitudeSpin> measured_spins(const AmplitudeSet& set, AmplitudeSolution& solution) {
  std::vector<AmplitudeSpin> spins = set.spins;
  refuse_same_files(spins);
  for (AmplitudeSpin& spin : spins) {
    if (spin.recording.empty()) continue;
    const AmplitudeTrack track = measured_amplitudes(spin, set.rig);
    spin.reading.amplitudes = track.amplitudes;
    spin.reading.u_amplitudes = track.u_amplitudes;
    spin.motions = track.motions;
    spin.speed_rad_s = track.speed_rad_s;
    for (Warning warning : track.warnings) {
      warning.spins = {spin.reading.label};
      solution.warnings.push_back(std::move(warning));
    }
  }
  return spins;
}

void refuse_mixed_motion(const std::vector<AmplitudeSpin>& spins) {
  for (const AmplitudeSpin& spin : spins) {
    if (spin.motions == spins.front().motions) continue;
    throw Error(Trouble::request, "mixed_motion",
                fmt::format("spin '{}' gives another kind of motion than the spins before it", spin.reading.label),
                "give all amplitudes of a file as one kind of motion");
  }
}

/// |Z| ~ Ω^n, its ± 1 taken as a standard uncertainty; see bring_to_speed.
void bring_to(double speed_rad_s, AmplitudeSpin& spin) {
  SpinReading reading;
  reading.speed_rad_s = spin.speed_rad_s;
  for (std::size_t s = 0; s < spin.motions.size(); ++s) {
    const double u = spin.reading.u_amplitudes[s];
    reading.vectors.emplace_back(spin.reading.amplitudes[s]);
    reading.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
  }
  const SpinReading brought = bring_to_speed(reading, spin.motions, speed_rad_s);
  for (std::size_t s = 0; s < spin.motions.size(); ++s) {
    spin.reading.amplitudes[s] = std::abs(brought.vectors[s]);
    spin.reading.u_amplitudes[s] = std::sqrt(brought.covariances[s](0, 0));
  }
}

void bring_to_one_amplitude_speed(std::vector<AmplitudeSpin>& spins, double tolerance) {
  std::optional<double> last;
  for (const AmplitudeSpin& spin : spins)
    if (spin.speed_rad_s) last = spin.speed_rad_s;
  for (AmplitudeSpin& spin : spins) {
    if (!spin.speed_rad_s) continue;
    if (std::abs(*spin.speed_rad_s / *last - 1.0) > tolerance) {
      throw Error(Trouble::request, "speeds_differ",
                  fmt::format("spin '{}' was made at {:.0f} rpm, and the last one at {:.0f} rpm", spin.reading.label,
                              rpm(*spin.speed_rad_s), rpm(*last)),
                  "hold one speed; where the spectrum found another line than the shaft's, state speed = \"1620 rpm\" "
                  "at the spin");
    }
    bring_to(*last, spin);
  }
}

/// What to add at each plane against an unbalance, with `on` on the shaft.
std::vector<FitInstruction> corrections_of(const AmplitudeSet& set, const Eigen::MatrixXcd& response,
                                           const std::vector<Phasor>& unbalance_kg_m,
                                           const std::vector<FittedWeight>& on) {
  const Eigen::Map<const Eigen::VectorXcd> unbalance(unbalance_kg_m.data(), response.cols());
  const ResidualProblem problem{response, response * unbalance, as_limits(room_kg_m(set.shaft, on))};
  std::vector<Eigen::Index> planes(set.shaft.planes.size());
  std::iota(planes.begin(), planes.end(), 0);
  const Eigen::VectorXcd corrections = correction_for(problem, planes, unbalance, Least::squares);
  std::vector<FitInstruction> list;
  for (const Plane& plane : set.shaft.planes)
    list.push_back(instruction_for(corrections(static_cast<Eigen::Index>(list.size())), plane, set.rig, set.shaft));
  return list;
}

}  // namespace

AmplitudeSolution solve_without_phase(const AmplitudeSet& set, double speed_tolerance) {
  AmplitudeSolution solution;
  std::vector<AmplitudeSpin> spins = measured_spins(set, solution);
  refuse_mixed_motion(spins);
  for (const AmplitudeSpin& spin : spins) solution.speeds_rad_s.push_back(spin.speed_rad_s);
  bring_to_one_amplitude_speed(spins, speed_tolerance);
  std::vector<AmplitudeReading> readings;
  for (const AmplitudeSpin& spin : spins) readings.push_back(spin.reading);
  const auto planes = static_cast<int>(set.shaft.planes.size());
  const AmplitudeSummary summary = solve_amplitudes(readings, planes, set.rig.setting);
  if (!summary.usable) throw Error(Trouble::request, "too_few_spins", summary.refusal.what, summary.refusal.remedy);
  solution.limits = limits_of(set.shaft);
  solution.warnings.insert(solution.warnings.end(), solution.limits.warnings.begin(), solution.limits.warnings.end());
  const std::vector<FittedWeight>& fitted = spins.back().reading.fitted;
  for (const AmplitudeCandidate& candidate : summary.candidates) {
    AmplitudeAnswer answer;
    answer.residual_kg_m = candidate.residual_kg_m;
    std::vector<Phasor> bare = candidate.residual_kg_m;
    for (const FittedWeight& piece : fitted) bare[static_cast<std::size_t>(piece.plane)] -= piece.unbalance_kg_m();
    answer.corrections = corrections_of(set, candidate.response, candidate.residual_kg_m, fitted);
    answer.corrections_bare = corrections_of(set, candidate.response, bare, {});
    answer.judgement = judge(set.shaft, solution.limits, candidate.residual_kg_m, candidate.covariance);
    hold_back(answer.judgement, solution.warnings);
    solution.answers.push_back(std::move(answer));
  }
  solution.held_back = solution.answers.front().judgement.held_back;
  solution.verdict = solution.answers.front().judgement.verdict;
  auto agrees = [&](const AmplitudeAnswer& answer) { return answer.judgement.verdict == solution.verdict; };
  if (!std::all_of(solution.answers.begin(), solution.answers.end(), agrees)) solution.verdict = Verdict::unsure;
  solution.warnings = gathered(not_holding(solution.warnings));
  return solution;
}

}  // namespace counterspot
