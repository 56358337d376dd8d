#include "counterspot/solution.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/error.hpp"

namespace counterspot {

namespace {

/// How the size of the response grows with speed: |Z| ~ Ω^n. See bring_to_speed.
double growth_exponent(Motion motion) {
  switch (motion) {
    case Motion::displacement: return 1.0;
    case Motion::velocity: return 2.0;
    case Motion::acceleration: return 3.0;
  }
  return 2.0;
}

/// Speeds nearer than this are one speed: a tenth of the tolerance of the default.
constexpr double speed_worth_a_word = 0.001;

std::pair<double, double> slowest_and_fastest(const std::vector<SpinReading>& readings) {
  double slowest = INFINITY;
  double fastest = 0.0;
  for (const SpinReading& reading : readings) {
    if (!reading.speed_rad_s) continue;
    slowest = std::min(slowest, *reading.speed_rad_s);
    fastest = std::max(fastest, *reading.speed_rad_s);
  }
  return {slowest, fastest};
}

/// The speed of the last spin that has one, to which the others are brought.
std::optional<double> reference_speed(const std::vector<SpinReading>& readings) {
  std::optional<double> speed_rad_s;
  for (const SpinReading& reading : readings) {
    if (reading.speed_rad_s) speed_rad_s = reading.speed_rad_s;
  }
  return speed_rad_s;
}

void bring_to_one_speed(std::vector<SpinReading>& readings, const std::vector<Motion>& motions,
                        const SolveOptions& options, Solution& solution) {
  solution.speed_rad_s = reference_speed(readings);
  if (!solution.speed_rad_s) return;
  auto [slowest, fastest] = slowest_and_fastest(readings);
  double spread = (fastest - slowest) / *solution.speed_rad_s;
  if (spread > options.speed_tolerance) {
    throw Error(
        Trouble::request, "speeds_differ",
        fmt::format(
            "the spins were made at {:.0f} to {:.0f} rpm, {:.1f} % apart, and coefficients hold at one speed only",
            rpm(slowest), rpm(fastest), 100.0 * spread),
        fmt::format("spin again within {:.1f} % of one speed, or allow more with --speed-tolerance",
                    100.0 * options.speed_tolerance));
  }
  for (SpinReading& reading : readings) reading = bring_to_speed(reading, motions, *solution.speed_rad_s);
  if (spread > speed_worth_a_word) {
    solution.warnings.push_back(
        {WarningCode::speeds_differ, std::nullopt,
         fmt::format("spins {:.1f} % apart in speed were brought to {:.0f} rpm, with more uncertainty", 100.0 * spread,
                     rpm(*solution.speed_rad_s))});
  }
}

const char* code_of(InfluenceStatus status) {
  switch (status) {
    case InfluenceStatus::solved: return "solved";
    case InfluenceStatus::too_few_spins: return "too_few_spins";
    case InfluenceStatus::trials_alike: return "trials_alike";
    case InfluenceStatus::trial_no_effect: return "trial_no_effect";
    case InfluenceStatus::planes_alike: return "planes_alike";
    case InfluenceStatus::too_few_sensors: return "too_few_sensors";
  }
  return "unsolved";
}

/// "…; make a spin with a trial weight there": the part after the semicolon is the remedy.
Error unsolved(const InfluenceSummary& influence) {
  auto cut = influence.explanation.find("; ");
  return {Trouble::request, code_of(influence.status), influence.explanation.substr(0, cut),
          cut == std::string::npos ? "spin again with other weights" : influence.explanation.substr(cut + 2)};
}

FitInstruction instruction_for(const Phasor& correction_kg_m, const Plane& plane, const Rig& rig, const Shaft& shaft) {
  FitInstruction fit;
  fit.mass_kg = std::abs(correction_kg_m) / plane.radius_m;
  fit.radius_m = plane.radius_m;
  fit.angle_rad = wrap_positive(std::arg(correction_kg_m));
  fit.clock = clock_position(fit.angle_rad, rig.rotation);
  if (shaft.tube) fit.arc = arc_length(fit.angle_rad, shaft.tube->outside_diameter_m);
  return fit;
}

std::optional<double> limit_of_plane(const Limits& limits, const std::string& name) {
  for (const PlaneLimit& limit : limits.planes) {
    if (limit.name == name) return limit.limit_kg_m;
  }
  return std::nullopt;
}

PlaneSolution solution_of_plane(std::size_t p, const Solution& solution, const Rig& rig, const Shaft& shaft) {
  const Plane& plane = shaft.planes[p];
  const PlaneUnbalance& unbalance = solution.influence.planes[p];
  PlaneSolution result;
  result.name = plane.name;
  result.limit_kg_m = limit_of_plane(solution.limits, plane.name);
  result.residual_kg_m = unbalance.residual_kg_m;
  auto at = static_cast<Eigen::Index>(2 * p);
  result.residual_covariance = solution.influence.residual_covariance.block<2, 2>(at, at);
  result.u_residual_kg_m = u_of_magnitude(result.residual_kg_m, result.residual_covariance);
  result.correction = instruction_for(unbalance.correction_kg_m, plane, rig, shaft);
  double set_badly = std::norm(unbalance.correction_kg_m) * (rig.setting.mass_fraction * rig.setting.mass_fraction +
                                                             rig.setting.angle_rad * rig.setting.angle_rad);
  result.predicted_residual_kg_m = std::sqrt(result.residual_covariance.trace() + set_badly);
  return result;
}

std::vector<std::string> names_of_planes(const Shaft& shaft) {
  std::vector<std::string> names;
  for (const Plane& plane : shaft.planes) names.push_back(plane.name);
  return names;
}

std::vector<std::string> names_of_sensors(const Rig& rig) {
  std::vector<std::string> names;
  for (const Sensor& sensor : rig.sensors) names.push_back(sensor.name);
  return names;
}

Error mixed_motion(const std::string& label, Motion motion, Motion other) {
  return {Trouble::request, "mixed_motion",
          fmt::format("spin '{}' gives {}, but the spins before it give {}", label, motion_name(motion),
                      motion_name(other)),
          "give all vectors of a file as one kind of motion"};
}

/// Every spin must show a sensor's motion as the first spin did.
void take_motions(std::vector<Motion>& motions, const std::vector<Motion>& of_spin, const std::string& label) {
  if (motions.empty()) motions = of_spin;
  for (std::size_t s = 0; s < motions.size(); ++s) {
    if (motions[s] != of_spin[s]) throw mixed_motion(label, of_spin[s], motions[s]);
  }
}

SpinReading reading_of(const Track& track, const SpinEntry& spin, std::vector<Motion>& motions) {
  SpinReading reading{spin.label, spin.fitted, {}, {}, track.speed_rad_s};
  for (const SensorTrack& sensor : track.sensors) {
    auto first = std::find_if(sensor.orders.begin(), sensor.orders.end(),
                              [](const OrderVector& order) { return order.order == 1; });
    reading.vectors.push_back(first->value);
    reading.covariances.push_back(first->covariance);
    motions.push_back(sensor.motion);
  }
  return reading;
}

SpinReading reading_of(const SpinEntry& spin, std::vector<Motion>& motions) {
  SpinReading reading{spin.label, spin.fitted, {}, {}, spin.speed_rad_s};
  for (const TypedVector& typed : spin.typed) {
    double u = typed.standard_uncertainty.value_or(0.0);
    reading.vectors.push_back(typed.value);
    reading.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
    motions.push_back(typed.motion);
  }
  return reading;
}

/// What the spins said, in order; the same words from several spins are one warning that names them all.
class SpinWarnings {
 public:
  void add(const std::string& label, const Warnings& warnings) {
    for (const Warning& warning : warnings) {
      auto same = [&](const Said& said) {
        return said.warning.code == warning.code && said.warning.message == warning.message;
      };
      auto said = std::find_if(said_.begin(), said_.end(), same);
      if (said == said_.end()) said = said_.insert(said_.end(), {warning, {}});
      said->labels.push_back("'" + label + "'");
    }
  }

  Warnings with_labels() const {
    Warnings all;
    for (const Said& said : said_) {
      all.push_back(said.warning);
      all.back().message = fmt::format("spin{} {}: {}", said.labels.size() > 1 ? "s" : "", fmt::join(said.labels, ", "),
                                       said.warning.message);
    }
    return all;
  }

 private:
  struct Said {
    Warning warning;
    std::vector<std::string> labels;
  };
  std::vector<Said> said_;
};

Track track_spin(const SpinEntry& spin, const Rig& rig, const TrackOptions& options) {
  try {
    RecordingOptions recording_options;
    recording_options.sample_rate_Hz = rig.sample_rate_Hz;
    auto recording = open_recording(spin.recording, recording_options);
    return track(*recording, rig, options);
  } catch (const Error& error) {
    throw Error(error.trouble(), error.code(), fmt::format("spin '{}': {}", spin.label, error.what()), error.remedy());
  }
}

}  // namespace

SpinReading bring_to_speed(const SpinReading& reading, const std::vector<Motion>& motions, double speed_rad_s) {
  if (!reading.speed_rad_s || *reading.speed_rad_s == speed_rad_s) return reading;
  SpinReading brought = reading;
  const double ratio = std::log(speed_rad_s / *reading.speed_rad_s);
  for (std::size_t s = 0; s < reading.vectors.size(); ++s) {
    double factor = std::exp(growth_exponent(motions[s]) * ratio);
    brought.vectors[s] *= factor;
    brought.covariances[s] *= factor * factor;
    if (reading.covariances[s].isZero(0.0)) continue;  // unknown stays unknown
    Eigen::Vector2d along(brought.vectors[s].real(), brought.vectors[s].imag());
    brought.covariances[s] += ratio * ratio * along * along.transpose();  // the exponent's ± 1
  }
  return brought;
}

Solution solve_readings(const Rig& rig, const Shaft& shaft, std::vector<SpinReading> readings,
                        const std::vector<Motion>& motions, const SolveOptions& options) {
  Solution solution;
  solution.motions = motions;
  solution.limits = limits_of(shaft);
  solution.warnings = solution.limits.warnings;
  bring_to_one_speed(readings, motions, options, solution);
  InfluenceOptions influence = options.influence;
  influence.setting = rig.setting;
  solution.influence = solve_influence(readings, names_of_planes(shaft), names_of_sensors(rig), influence);
  if (!solution.influence.usable()) throw unsolved(solution.influence);
  solution.readings = std::move(readings);
  const Warnings& said = solution.influence.warnings;
  solution.warnings.insert(solution.warnings.end(), said.begin(), said.end());
  std::vector<Phasor> residual;
  for (const PlaneUnbalance& plane : solution.influence.planes) residual.push_back(plane.residual_kg_m);
  solution.judgement = judge(shaft, solution.limits, residual, solution.influence.residual_covariance);
  for (std::size_t p = 0; p < shaft.planes.size(); ++p)
    solution.planes.push_back(solution_of_plane(p, solution, rig, shaft));
  return solution;
}

std::optional<Warning> joints_and_order_2(const Warnings& of_spins, const Shaft& shaft) {
  const bool large = std::any_of(of_spins.begin(), of_spins.end(),
                                 [](const Warning& warning) { return warning.code == WarningCode::order_2_dominant; });
  if (!large) return std::nullopt;
  return Warning{WarningCode::order_2_dominant, std::nullopt, advice_on_order_2(shaft.joints)};
}

Solution solve(const SpinSet& set, const SolveOptions& options) {
  std::vector<SpinReading> readings;
  std::vector<Motion> motions;
  std::vector<Track> tracks;
  SpinWarnings said;
  for (const SpinEntry& spin : set.spins) {
    std::vector<Motion> of_spin;
    if (spin.recording.empty()) {
      readings.push_back(reading_of(spin, of_spin));
    } else {
      tracks.push_back(track_spin(spin, set.rig, options.tracking));
      readings.push_back(reading_of(tracks.back(), spin, of_spin));
      said.add(spin.label, tracks.back().warnings);
    }
    take_motions(motions, of_spin, spin.label);
  }
  Solution solution = solve_readings(set.rig, set.shaft, std::move(readings), motions, options);
  solution.tracks = std::move(tracks);
  Warnings warnings = said.with_labels();
  if (auto joints = joints_and_order_2(warnings, set.shaft)) warnings.push_back(std::move(*joints));
  solution.warnings.insert(solution.warnings.begin(), warnings.begin(), warnings.end());
  return solution;
}

}  // namespace counterspot
