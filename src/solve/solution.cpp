#include "counterspot/solve/solution.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/solve/plan.hpp"
#include "counterspot/units/error.hpp"
#include "model/names.hpp"
#include "solve/moved_sensor.hpp"
#include "solve/same_recording.hpp"

namespace counterspot {

namespace {

/// Speeds nearer than this are one speed: a tenth of the tolerance of the default.
constexpr double speed_worth_a_word = 0.001;

using Groups = std::vector<std::vector<SpinReading>>;

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

/// A spin belongs to the first group whose speed it is near to, one without a speed to the last spin's; the last
/// spin's group comes last.
Groups by_speed(const std::vector<SpinReading>& readings, double tolerance) {
  Groups groups;
  const auto last_speed = reference_speed(readings);
  if (!last_speed) return {readings};
  std::size_t last = 0;
  for (const SpinReading& reading : readings) {
    const double speed = reading.speed_rad_s.value_or(*last_speed);
    auto near = [&](const std::vector<SpinReading>& group) {
      const double of_group = group.front().speed_rad_s.value_or(*last_speed);
      return std::abs(speed - of_group) <= tolerance * *last_speed;
    };
    auto at = std::find_if(groups.begin(), groups.end(), near);
    if (at == groups.end()) at = groups.insert(groups.end(), std::vector<SpinReading>());
    at->push_back(reading);
    last = static_cast<std::size_t>(at - groups.begin());
  }
  std::swap(groups[last], groups.back());
  return groups;
}

Error speeds_differ(const std::vector<SpinReading>& readings, double tolerance) {
  auto [slowest, fastest] = slowest_and_fastest(readings);
  return {
      Trouble::request, "speeds_differ",
      fmt::format(
          "the spins were made at {:.0f} to {:.0f} rpm, {:.1f} % apart, and coefficients hold at one speed only",
          rpm(slowest), rpm(fastest), 100.0 * (fastest - slowest) / *reference_speed(readings)),
      fmt::format("spin again within {:.1f} % of one speed, or allow more with --speed-tolerance", 100.0 * tolerance)};
}

void bring_to_one_speed(std::vector<SpinReading>& readings, const std::vector<Motion>& motions, Warnings& warnings) {
  const auto reference = reference_speed(readings);
  if (!reference) return;
  auto [slowest, fastest] = slowest_and_fastest(readings);
  const double spread = (fastest - slowest) / *reference;
  for (SpinReading& reading : readings) reading = bring_to_speed(reading, motions, *reference);
  if (spread > speed_worth_a_word) {
    warnings.push_back({WarningCode::speeds_differ, std::nullopt,
                        fmt::format("spins {:.1f} % apart in speed were brought to {:.0f} rpm, with more uncertainty",
                                    100.0 * spread, rpm(*reference))});
  }
}

/// Every speed must have the spins to find its own coefficients.
Groups speeds_of(const std::vector<SpinReading>& readings, const std::vector<Motion>& motions, std::size_t planes,
                 double tolerance, Warnings& warnings) {
  Groups groups = by_speed(readings, tolerance);
  for (const auto& group : groups) {
    auto [slowest, fastest] = slowest_and_fastest(group);
    const bool enough = groups.size() == 1 || group.size() > planes;
    if (!enough || fastest - slowest > tolerance * reference_speed(readings).value_or(0.0))
      throw speeds_differ(readings, tolerance);
  }
  for (auto& group : groups) bring_to_one_speed(group, motions, warnings);
  return groups;
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

Error unsolved(const InfluenceSummary& influence) {
  return {Trouble::request, code_of(influence.status), influence.refusal.what, influence.refusal.remedy};
}

/// Root-mean-square of what is left: what the residual is unsure by, what setting does, and what a limited correction
/// leaves.
double predicted_kg_m(const Phasor& present, const Phasor& correction, const Eigen::Matrix2d& covariance,
                      const SettingUncertainty& setting) {
  const double set_badly =
      std::norm(correction) * (setting.mass_fraction * setting.mass_fraction + setting.angle_rad * setting.angle_rad);
  return std::sqrt(covariance.trace() + set_badly + std::norm(present + correction));
}

PlaneSolution solution_of_plane(std::size_t p, const Solution& solution, const Rig& rig, const Shaft& shaft) {
  const Plane& plane = shaft.planes[p];
  const PlaneUnbalance& unbalance = solution.influence.planes[p];
  PlaneSolution result;
  result.name = plane.name;
  result.limit_kg_m = limit_of(solution.limits, plane.name);
  result.residual_kg_m = unbalance.residual_kg_m;
  auto at = static_cast<Eigen::Index>(2 * p);
  result.residual_covariance = solution.influence.residual_covariance.block<2, 2>(at, at);
  result.u_residual_kg_m = u_of_magnitude(result.residual_kg_m, result.residual_covariance);
  result.correction = instruction_for(unbalance.correction_kg_m, plane, rig, shaft);
  result.predicted_residual_kg_m =
      predicted_kg_m(unbalance.residual_kg_m, unbalance.correction_kg_m, result.residual_covariance, rig.setting);
  result.correction_bare = instruction_for(unbalance.bare_correction_kg_m, plane, rig, shaft);
  const Eigen::Matrix2d bare =
      result.residual_covariance + solution.influence.bare_covariance_change.block<2, 2>(at, at);
  result.predicted_bare_kg_m = predicted_kg_m(unbalance.bare_kg_m, unbalance.bare_correction_kg_m, bare, rig.setting);
  return result;
}

Error mixed_motion(const std::string& label, Motion motion, Motion other) {
  return {Trouble::request, "mixed_motion",
          fmt::format("spin '{}' gives {}, but the spins before it give {}", label, motion_name(motion),
                      motion_name(other)),
          "give all vectors of a file as one kind of motion"};
}

/// Every spin must show a sensor's motion as the first spin did.
void hold_to_motions(std::vector<Motion>& motions, const std::vector<Motion>& of_spin, const std::string& label) {
  if (motions.empty()) motions = of_spin;
  for (std::size_t s = 0; s < motions.size(); ++s) {
    if (motions[s] != of_spin[s]) throw mixed_motion(label, of_spin[s], motions[s]);
  }
}

SpinReading reading_of(const Track& track, const SpinEntry& spin, std::vector<Motion>& motions) {
  SpinReading reading{spin.label, spin.fitted, {}, {}, track.speed_rad_s, spin.turned_rad};
  for (const SensorTrack& sensor : track.sensors) {
    auto first = std::find_if(sensor.orders.begin(), sensor.orders.end(),
                              [](const OrderVector& order) { return order.order == 1; });
    reading.vectors.push_back(first->value);
    reading.covariances.push_back(first->covariance);
    reading.levels.push_back({sensor.bands, sensor.step});
    // the slope is left out: the log does not keep it, and a job must say what `solve` says of the same spins
    motions.push_back(sensor.motion);
  }
  reading.noticed = track.warnings;
  return reading;
}

SpinReading reading_of(const SpinEntry& spin, std::vector<Motion>& motions) {
  SpinReading reading{spin.label, spin.fitted, {}, {}, spin.speed_rad_s, spin.turned_rad};
  for (const TypedVector& typed : spin.typed) {
    double u = typed.standard_uncertainty.value_or(0.0);
    reading.vectors.push_back(typed.value);
    reading.covariances.emplace_back(u * u * Eigen::Matrix2d::Identity());
    motions.push_back(typed.motion);
  }
  return reading;
}

/// What was noticed in the spins, each with the label of its spin.
Warnings noticed_in(const std::vector<SpinReading>& readings) {
  Warnings all;
  for (const SpinReading& reading : readings) {
    for (Warning warning : reading.noticed) {
      if (!reading.label.empty()) warning.spins = {reading.label};
      all.push_back(std::move(warning));
    }
  }
  return all;
}

/// The one place where everything that was noticed meets the verdict.
void conclude(Solution& solution, const Warnings& of_spins, const Warnings& of_rig) {
  Warnings all = of_spins;
  all.insert(all.end(), of_rig.begin(), of_rig.end());
  all.insert(all.end(), solution.warnings.begin(), solution.warnings.end());
  hold_back(solution.judgement, all);
  solution.warnings = gathered(not_holding(all));
}

Track track_spin(const SpinEntry& spin, const Rig& rig, const TrackOptions& options) {
  try {
    RecordingOptions opening = recording_options(rig);
    auto recording = open_recording(spin.recording, opening);
    return track(*recording, rig, options);
  } catch (const Error& error) {
    throw Error(error.trouble(), error.code(), fmt::format("spin '{}': {}", spin.label, error.what()), error.remedy());
  }
}

void refuse_same_files(const std::vector<SpinEntry>& spins) {
  std::vector<SpinRecording> recordings;
  for (const SpinEntry& spin : spins)
    if (!spin.recording.empty()) recordings.push_back({spin.label, spin.recording, spin.fitted, spin.turned_rad});
  refuse_same_recordings(recordings);
}

/// A vector at another speed, what its covariance is scaled by, and what is added to it.
struct Brought {
  Phasor value;
  double scale = 1.0;
  Eigen::Matrix2d added;
};

Brought by_slope(const Phasor& value, const SpeedSlope& slope, double step_rad_s) {
  const double bend = 0.5 * largest_curvature(value, slope.per_rad_s) * step_rad_s * step_rad_s;
  const double u = std::abs(step_rad_s) * slope.u_per_rad_s;
  return {value + step_rad_s * slope.per_rad_s, 1.0, (u * u + 0.5 * bend * bend) * Eigen::Matrix2d::Identity()};
}

Brought by_model(const Phasor& value, double exponent, double log_ratio) {
  const double factor = std::exp(exponent * log_ratio);
  const Eigen::Vector2d along(factor * value.real(), factor * value.imag());
  return {factor * value, factor, log_ratio * log_ratio * along * along.transpose()};  // the exponent's ± 1
}

/// @param trials of the last spin's weights, those that come off.
InfluenceOptions options_for(const Rig& rig, const Shaft& shaft, const SpinReading& last,
                             const std::vector<FittedWeight>& trials, const InfluenceOptions& given) {
  InfluenceOptions options = given;
  options.setting = rig.setting;
  options.coming_off = trials;
  if (!options.most_kg_m.empty()) return options;
  options.most_kg_m = room_kg_m(shaft, last.fitted);
  options.most_bare_kg_m = room_kg_m(shaft, pieces_without(last.fitted, trials));
  return options;
}

double highest_speed(const Shaft& shaft, const std::vector<SpinReading>& readings) {
  return std::max(shaft.service_speed_rad_s.value_or(0.0), slowest_and_fastest(readings).second);
}

/// What all of the shaft may have: of a grade, or of the limits that were typed for its planes.
double total_limit(const Limits& limits) {
  double sum = 0.0;
  for (const PlaneLimit& plane : limits.planes) sum += plane.limit_kg_m;
  return limits.total_kg_m.value_or(sum);
}

/// A speed at which bending shows beside what the rest of the shaft makes: the mode's amplification is then about one.
constexpr double showing_fraction = 0.7;

/// The next speed to spin at, for what the speeds so far do not show of a mode: under 75 % of its critical speed as
/// long as that is news, then the highest.
double showing_speed(double fastest_rad_s, double critical_rad_s, double highest_rad_s) {
  const double below = showing_fraction * critical_rad_s;
  return fastest_rad_s < 0.95 * below ? std::min(below, highest_rad_s) : highest_rad_s;
}

/// A mode whose verdict rests on what the spins cannot show.
bool is_unseen(const ModalPart& mode, const Held& held) {
  return held.verdict == Verdict::unsure &&
         2.0 * mode.u_unseen_kg_m * mode.u_unseen_kg_m > held.u_residual_kg_m * held.u_residual_kg_m;
}

void say_unseen(const std::vector<SpinReading>& readings, double highest, std::size_t n, Solution& solution) {
  const ModalPart& mode = solution.modes[n];
  const Held& held = solution.judgement.held.back();
  const double fastest = slowest_and_fastest(readings).second;
  solution.wanted_speed_rad_s = showing_speed(fastest, mode.critical_rad_s, highest);
  Warning warning{
      WarningCode::mode_unseen, std::nullopt,
      fmt::format("spins at up to {:.0f} rpm show mode {} (critical at {:.0f} rpm) only to ± {:.0f} g·mm, and "
                  "the limit is {:.0f} g·mm",
                  rpm(fastest), n + 1, rpm(mode.critical_rad_s), in_g_mm(coverage_factor * mode.u_unseen_kg_m),
                  in_g_mm(held.limit_kg_m))};
  warning.remedy =
      fmt::format("spin at about {:.0f} rpm as well with every set of weights, where rig and guard are made for it",
                  rpm(*solution.wanted_speed_rad_s));
  solution.warnings.push_back(std::move(warning));
}

void say_flexible(const Shaft& shaft, const std::vector<SpinReading>& readings, double highest, Solution& solution) {
  const double critical = solution.modes.front().critical_rad_s;
  if (shaft.planes.size() > 2) {
    const double fastest = slowest_and_fastest(readings).second;
    const double wanted = showing_speed(fastest, critical, highest);
    solution.wanted_speed_rad_s = wanted > 1.05 * fastest ? wanted : 0.5 * critical;
  }
  Warning warning{
      WarningCode::flexible_shaft, std::nullopt,
      fmt::format("up to {:.0f} rpm this shaft bends (critical at {:.0f} rpm), and spins at one speed or in two planes "
                  "do not show how it runs at others",
                  rpm(highest), rpm(critical))};
  if (solution.wanted_speed_rad_s)
    warning.remedy =
        fmt::format("spin at about {:.0f} rpm as well, with every set of weights", rpm(*solution.wanted_speed_rad_s));
  solution.warnings.push_back(std::move(warning));
}

/// Where the shaft bends, the verdict holds each mode too; spins at one speed, or two planes, do not show a mode, and
/// slow ones not much of it.
void judge_modes(const Shaft& shaft, const std::vector<SpinReading>& readings, const std::vector<Phasor>& residual,
                 Solution& solution) {
  BeamOptions options;
  options.modes = 6;
  options.with_discretisation = false;
  const auto beam = bending_of(shaft, options);
  if (!beam) return;
  const double highest = highest_speed(shaft, readings);
  const double total = total_limit(solution.limits);
  solution.modes = modal_parts(shaft, *beam, highest, residual, solution.influence.residual_covariance);
  if (solution.modes.empty()) return;
  const bool shown = solution.influence.speeds.size() > 1 && shaft.planes.size() > 2;
  if (shown && solution.influence.uncertainty_known)
    add_unseen(shaft, *beam, {solution.influence, readings.back().fitted, total}, solution.modes);
  for (std::size_t n = 0; n < solution.modes.size(); ++n) {
    ModalPart& mode = solution.modes[n];
    mode.limit_kg_m = modal_share * total;
    hold_also(solution.judgement, at_mode(n + 1), mode.unbalance_kg_m, mode.covariance, mode.limit_kg_m);
    if (shown && is_unseen(solution.modes[n], solution.judgement.held.back()))
      say_unseen(readings, highest, n, solution);
  }
  if (shown) return;
  say_flexible(shaft, readings, highest, solution);
}

/// Names the faults that spins of one speed show against each other, adds what spins scatter by, and takes those with
/// the same weights together.
void fold_repeats(std::vector<SpinReading>& group, const Rig& rig, const Shaft& shaft, const InfluenceOptions& options,
                  double scatter_fraction, Solution& solution) {
  const auto repeats = add_repeat_scatter(group, names_of(rig.sensors));
  if (repeats.empty()) add_assumed_scatter(group, scatter_fraction);
  const Warnings faults = compare_spins(group, names_of(shaft.planes), names_of(rig.sensors), options);
  solution.warnings.insert(solution.warnings.end(), faults.begin(), faults.end());
  solution.repeats.insert(solution.repeats.end(), repeats.begin(), repeats.end());
  solution.readings.insert(solution.readings.end(), group.begin(), group.end());
  group = merge_repeats(group);
}

enum class AdaptersUse {
  none,              ///< nothing known, or the spins themselves tell the adapters from the shaft
  take_away,         ///< every spin says how the shaft stands to them
  unknown_direction  ///< in the readings, at any angle to the mark
};

AdaptersUse use_of_adapters(const std::vector<SpinReading>& readings, const SolveOptions& options) {
  if (!options.rig.adapters) return AdaptersUse::none;
  const auto stated = [](const SpinReading& spin) { return spin.turned_rad.has_value(); };
  const auto turned = [&](const SpinReading& spin) { return spin.turned_rad != readings.front().turned_rad; };
  if (!std::all_of(readings.begin(), readings.end(), stated)) return AdaptersUse::unknown_direction;
  return std::any_of(readings.begin(), readings.end(), turned) ? AdaptersUse::none : AdaptersUse::take_away;
}

InfluenceSummary influence_of(const Groups& groups, const Rig& rig, const Shaft& shaft,
                              const InfluenceOptions& options) {
  return groups.size() == 1 ? solve_influence(groups.front(), names_of(shaft.planes), names_of(rig.sensors), options)
                            : solve_speeds(groups, names_of(shaft.planes), names_of(rig.sensors), options);
}

/// Where the uncertainty rests on a scatter that nobody has measured on this rig: it makes more of it than all the
/// rest.
void say_assumed_scatter(const Groups& as_recorded, const Rig& rig, const Shaft& shaft, const InfluenceOptions& options,
                         const RigKnowledge& known, Solution& solution) {
  const bool measured = known.repeat_fraction || known.umar_kg_m > 0.0 || !solution.repeats.empty();
  if (measured || !solution.influence.uncertainty_known || solution.influence.residual_covariance.isZero(0.0)) return;
  const InfluenceSummary without = influence_of(as_recorded, rig, shaft, options);
  if (!without.usable() || without.residual_covariance.rows() != solution.influence.residual_covariance.rows()) return;
  const Eigen::ArrayXd with = solution.influence.residual_covariance.diagonal().array();
  if ((with <= 4.0 * without.residual_covariance.diagonal().array()).all()) return;
  solution.warnings.push_back(
      {WarningCode::scatter_assumed, std::nullopt,
       fmt::format("the ± rests mostly on {:.2g} % by which a reading is taken to change from spin to spin (repeat "
                   "under [setting] of the rig file), since nothing shows what this rig's spins scatter by",
                   100.0 * rig.setting.repeat_fraction)});
}

/// The sensor that shows a plane's limit best, counted in steps of its converter.
void say_coarse_steps(const SpinReading& last, const Rig& rig, const Shaft& shaft, Solution& solution) {
  const std::size_t planes = shaft.planes.size();
  for (std::size_t p = 0; p < planes && !last.levels.empty(); ++p) {
    const auto limit = limit_of(solution.limits, shaft.planes[p].name);
    if (!limit) continue;
    double most_steps = 0.0;
    std::size_t best = 0;
    for (std::size_t s = 0; s < last.levels.size(); ++s) {
      const double reading = std::abs(solution.influence.coefficients[s * planes + p].value) * *limit;
      const double steps = last.levels[s].step > 0.0 ? reading / last.levels[s].step : INFINITY;
      if (steps > most_steps) best = s;
      most_steps = std::max(most_steps, steps);
    }
    if (most_steps >= 1.0) continue;
    solution.warnings.push_back({WarningCode::coarse_steps, rig.sensors[best].name,
                                 fmt::format("at sensor {} the limit of plane {} reads {:.2g} steps of the converter",
                                             rig.sensors[best].name, shaft.planes[p].name, most_steps)});
  }
}

}  // namespace

SpinReading bring_to_speed(const SpinReading& reading, const std::vector<Motion>& motions, double speed_rad_s) {
  if (!reading.speed_rad_s || *reading.speed_rad_s == speed_rad_s) return reading;
  SpinReading brought = reading;
  brought.speed_rad_s = speed_rad_s;
  const double ratio = std::log(speed_rad_s / *reading.speed_rad_s);
  for (std::size_t s = 0; s < reading.vectors.size(); ++s) {
    const auto slope = reading.slopes.empty() ? std::nullopt : reading.slopes[s];
    const Brought one = slope ? by_slope(reading.vectors[s], *slope, speed_rad_s - *reading.speed_rad_s)
                              : by_model(reading.vectors[s], growth_exponent(motions[s]), ratio);
    brought.vectors[s] = one.value;
    if (reading.covariances[s].isZero(0.0)) continue;  // unknown stays unknown
    brought.covariances[s] = one.scale * one.scale * reading.covariances[s] + one.added;
  }
  return brought;
}

Solution solve_readings(const Rig& rig, const Shaft& shaft, const std::vector<SpinReading>& readings,
                        const std::vector<Motion>& motions, const SolveOptions& options) {
  Solution solution;
  solution.motions = motions;
  solution.limits = limits_of(shaft);
  solution.warnings = solution.limits.warnings;
  Groups groups = speeds_of(readings, motions, shaft.planes.size(), options.speed_tolerance, solution.warnings);
  solution.speed_rad_s = reference_speed(readings);
  const AdaptersUse adapters = use_of_adapters(readings, options);
  solution.trial_weights = options.trial_weights.value_or(trial_pieces(readings, shaft.planes.size()));
  InfluenceOptions influence = options_for(rig, shaft, readings.back(), solution.trial_weights, options.influence);
  if (adapters == AdaptersUse::take_away) influence.adapters = adapters_in_planes(*options.rig.adapters, shaft);
  const Warnings changed = compare_levels(readings, names_of(rig.sensors), options.rig.earlier);
  solution.warnings.insert(solution.warnings.end(), changed.begin(), changed.end());
  const Groups as_recorded = groups;
  const double scatter_fraction = options.rig.repeat_fraction.value_or(rig.setting.repeat_fraction);
  for (auto& group : groups) fold_repeats(group, rig, shaft, influence, scatter_fraction, solution);
  solution.influence = influence_of(groups, rig, shaft, influence);
  if (!solution.influence.usable())
    throw unstated_change(readings, motions, rig.sensors).value_or(unsolved(solution.influence));
  say_assumed_scatter(as_recorded, rig, shaft, influence, options.rig, solution);
  say_coarse_steps(readings.back(), rig, shaft, solution);
  add_rig_errors(solution.influence, options.rig, shaft, adapters != AdaptersUse::unknown_direction);
  const Warnings& said = solution.influence.warnings;
  solution.warnings.insert(solution.warnings.end(), said.begin(), said.end());
  std::vector<Phasor> residual;
  for (const PlaneUnbalance& plane : solution.influence.planes) residual.push_back(plane.residual_kg_m);
  solution.judgement = judge(shaft, solution.limits, residual, solution.influence.residual_covariance);
  solution.rigid = rigid_parts(shaft, residual);
  judge_modes(shaft, readings, residual, solution);
  for (std::size_t p = 0; p < shaft.planes.size(); ++p)
    solution.planes.push_back(solution_of_plane(p, solution, rig, shaft));
  Warnings of_spins = noticed_in(readings);
  if (auto joints = joints_and_order_2(of_spins, shaft)) of_spins.push_back(std::move(*joints));
  conclude(solution, of_spins, options.rig.noticed);
  return solution;
}

std::optional<Warning> joints_and_order_2(const Warnings& of_spins, const Shaft& shaft) {
  const bool large = std::any_of(of_spins.begin(), of_spins.end(),
                                 [](const Warning& warning) { return warning.code == WarningCode::order_2_dominant; });
  if (!large) return std::nullopt;
  return Warning{WarningCode::order_2_dominant, std::nullopt, advice_on_order_2(shaft.joints)};
}

MeasuredSpins measured(const SpinSet& set, const SolveOptions& options) {
  MeasuredSpins spins;
  auto& [readings, motions, tracks] = spins;
  refuse_same_files(set.spins);
  std::vector<SpinReading> recorded;
  for (const SpinEntry& spin : set.spins) {
    std::vector<Motion> of_spin;
    if (spin.recording.empty()) {
      readings.push_back(reading_of(spin, of_spin));
    } else {
      tracks.push_back(track_spin(spin, set.rig, options.tracking));
      readings.push_back(reading_of(tracks.back(), spin, of_spin));
      recorded.push_back(readings.back());
    }
    hold_to_motions(motions, of_spin, spin.label);
  }
  refuse_same_readings(recorded);
  return spins;
}

Solution solve(const SpinSet& set, const SolveOptions& options) {
  MeasuredSpins spins = measured(set, options);
  Solution solution = solve_readings(set.rig, set.shaft, spins.readings, spins.motions, options);
  solution.tracks = std::move(spins.tracks);
  return solution;
}

}  // namespace counterspot
