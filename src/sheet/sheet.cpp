#include "counterspot/sheet/sheet.hpp"

#include <algorithm>

#include "counterspot/job/analysis.hpp"
#include "counterspot/job/next_step.hpp"
#include "counterspot/job/standing_finding.hpp"
#include "counterspot/job/stated.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/placement/fitting.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

std::string without_folders(const std::string& path) {
  return path.substr(path.find_last_of('/') + 1);
}

/// Where the heavy spot is, if its unbalance is told from nothing.
std::optional<double> told_angle(const Phasor& unbalance_kg_m, double u_kg_m) {
  if (!(std::abs(unbalance_kg_m) > coverage_factor * u_kg_m)) return std::nullopt;
  return wrap_positive(std::arg(unbalance_kg_m));
}

/// The vector of each plane of the shaft carried to a place; empty for a mode.
std::optional<Phasor> vector_at(const HeldPlace& place, const Shaft& shaft, const Limits& limits,
                                const std::vector<Phasor>& planes_kg_m) {
  if (planes_kg_m.size() != shaft.planes.size()) return std::nullopt;
  for (const AimRow& row : aim_at_unbalance(shaft, planes_kg_m, limits.planes, limits.supports))
    if (row.place == place) return row.present;
  return std::nullopt;
}

/// The covariance of what was there as found: of the same readings with the first spin made last. Nothing of the rig is
/// in it beyond noise, setting and spread of the spins. Empty if it is not known.
Eigen::MatrixXd covariance_as_found(const Sheet& sheet, const JobState& state) {
  std::vector<SpinReading> spins = readings_of(state);
  if (spins.empty() || !spins.front().fitted.empty()) return {};
  std::rotate(spins.begin(), spins.begin() + 1, spins.end());
  try {
    const Solution solution = solve_readings(sheet.rig, sheet.shaft, spins, motions_of(state));
    if (!solution.influence.uncertainty_known) return {};
    return solution.influence.residual_covariance;
  } catch (const Error&) {  // a ± that cannot be told is not shown
    return {};
  }
}

/// By the job's own coefficients.
std::optional<SheetAsFound> as_found_at(const HeldPlace& place, const Sheet& sheet, const Solution& solution,
                                        const Eigen::MatrixXd& covariance) {
  std::vector<Phasor> planes;
  for (const PlaneUnbalance& plane : solution.influence.planes) planes.push_back(plane.as_found_kg_m);
  const auto vector = vector_at(place, sheet.shaft, sheet.limits, planes);
  if (!vector) return std::nullopt;
  SheetAsFound found{std::abs(*vector), 0.0, {}};
  if (covariance.rows() == static_cast<Eigen::Index>(2 * planes.size())) {
    for (const Held& held : judge(sheet.shaft, sheet.limits, planes, covariance).held)
      if (held.place == place) found.u_kg_m = held.u_residual_kg_m;
  }
  found.angle_rad = told_angle(*vector, found.u_kg_m);
  return found;
}

/// As it was kept of the first spin, if only earlier shafts had coefficients.
std::optional<SheetAsFound> kept_as_found_at(const HeldPlace& place, const Sheet& sheet, const JobState& state) {
  if (state.spins.empty() || !state.spins.front().fitted.empty() || !state.spins.front().spun.finding)
    return std::nullopt;
  const Finding& first = *state.spins.front().spun.finding;
  std::vector<Phasor> planes;
  for (const PlaneFinding& plane : first.planes) planes.push_back(plane.residual_kg_m);
  for (const Held& held : first.held) {
    if (held.place != place) continue;
    const auto vector = vector_at(place, sheet.shaft, sheet.limits, planes);
    return SheetAsFound{held.residual_kg_m, held.u_residual_kg_m,
                        vector ? told_angle(*vector, held.u_residual_kg_m) : std::nullopt};
  }
  return std::nullopt;
}

void add_finding(Sheet& sheet, const Finding& finding, const std::optional<Solution>& solution, const JobState& state) {
  sheet.verdict = finding.verdict;
  sheet.used_prior = finding.used_prior;
  sheet.held_back = finding.held_back;
  std::vector<Phasor> planes;
  for (const PlaneFinding& plane : finding.planes) planes.push_back(plane.residual_kg_m);
  const Eigen::MatrixXd covariance = solution ? covariance_as_found(sheet, state) : Eigen::MatrixXd();
  for (const Held& held : finding.held) {
    SheetPlace place{held};
    if (const auto vector = vector_at(held.place, sheet.shaft, sheet.limits, planes))
      place.angle_rad = told_angle(*vector, held.u_residual_kg_m);
    place.as_found =
        solution ? as_found_at(held.place, sheet, *solution, covariance) : kept_as_found_at(held.place, sheet, state);
    sheet.places.push_back(std::move(place));
  }
}

/// Vectors of all spins: by the job's own coefficients, or as they were kept spin by spin.
std::vector<VectorDiagram> diagrams_of_job(const Sheet& sheet, const std::optional<Solution>& solution,
                                           const JobState& state, const Finding* finding) {
  std::vector<VectorDiagram> diagrams;
  if (solution) {
    diagrams = diagrams_of(sheet.rig, sheet.shaft, sheet.limits, solution->readings, solution->influence.coefficients);
  } else {
    for (std::size_t p = 0; p < sheet.shaft.planes.size(); ++p) {
      diagrams.push_back({sheet.shaft.planes[p].name, sheet.rig.viewing_end, sheet.rig.rotation, {}, {}});
      diagrams[p].limit_kg_m = limit_of(sheet.limits, diagrams[p].plane);
      for (const StandingSpin& spin : state.spins) {
        if (!spin.spun.finding || p >= spin.spun.finding->planes.size()) continue;
        const PlaneFinding& plane = spin.spun.finding->planes[p];
        diagrams[p].spins.push_back({spin.spun.label, plane.residual_kg_m, plane.covariance});
      }
    }
  }
  for (std::size_t p = 0; finding != nullptr && p < diagrams.size() && p < finding->planes.size(); ++p) {
    if (diagrams[p].spins.empty()) continue;
    diagrams[p].spins.back().unbalance_kg_m = finding->planes[p].residual_kg_m;  // the one that was kept
    diagrams[p].spins.back().covariance = finding->planes[p].covariance;
  }
  bring_to_one_scale(diagrams);
  return diagrams;
}

void add_pieces(Sheet& sheet, const JobState& state, UnitSystem units) {
  const auto tube = sheet.shaft.tube ? std::optional(sheet.shaft.tube->outside_diameter_m) : std::nullopt;
  for (std::size_t p = 0; p < sheet.shaft.planes.size(); ++p) {
    ClockFace face = face_of(sheet.rig, sheet.shaft, p, state.on_shaft, sheet.rig.viewing_end);
    face.units = units;
    std::size_t on_face = 0;
    for (const FittedWeight& weight : state.on_shaft) {
      if (static_cast<std::size_t>(weight.plane) != p) continue;
      const int number = static_cast<int>(sheet.pieces.size()) + 1;
      face.pieces[on_face++].number = number;
      sheet.pieces.push_back({number, sheet.shaft.planes[p].name, weight,
                              spot_at(wrap_positive(weight.angle_rad), sheet.rig.rotation, tube)});
    }
    sheet.faces.push_back(std::move(face));
  }
}

/// What some spin carried, each once, and is no longer on.
void add_trials(Sheet& sheet, const JobState& state) {
  std::vector<FittedWeight> seen = state.on_shaft;
  const auto tube = sheet.shaft.tube ? std::optional(sheet.shaft.tube->outside_diameter_m) : std::nullopt;
  for (const StandingSpin& spin : state.spins) {
    for (const FittedWeight& weight : spin.fitted) {
      if (std::find(seen.begin(), seen.end(), weight) != seen.end()) continue;
      seen.push_back(weight);
      sheet.trials.push_back({static_cast<int>(sheet.trials.size()) + 1,
                              sheet.shaft.planes[static_cast<std::size_t>(weight.plane)].name, weight,
                              spot_at(wrap_positive(weight.angle_rad), sheet.rig.rotation, tube)});
    }
  }
}

SheetPiece sheet_piece(const Sheet& sheet, std::size_t plane, const Phasor& unbalance_kg_m, int number) {
  const double radius = sheet.shaft.planes[plane].radius_m;
  const FittedWeight weight{static_cast<int>(plane), std::abs(unbalance_kg_m) / radius, radius,
                            wrap_positive(std::arg(unbalance_kg_m))};
  const auto tube = sheet.shaft.tube ? std::optional(sheet.shaft.tube->outside_diameter_m) : std::nullopt;
  return {number, sheet.shaft.planes[plane].name, weight, spot_at(weight.angle_rad, sheet.rig.rotation, tube)};
}

/// What was kept as the correction, and the same for the shaft without its trial weights.
void add_next_fit(Sheet& sheet, const Finding& finding, const Job& job, const std::optional<Solution>& own) {
  if (sheet.closed_unix_s || finding.verdict == Verdict::within || !gives_correction(finding)) return;
  const std::vector<FittedWeight> trials = trial_weights_of(job);
  sheet.trials_on = !trials.empty();
  for (std::size_t p = 0; p < finding.planes.size(); ++p) {
    const PlaneFinding& plane = finding.planes[p];
    const Phasor on_top = phasor_at(plane.correction_kg * plane.radius_m, plane.angle_rad);
    Phasor bare = on_top;
    for (const FittedWeight& piece : trials)
      if (static_cast<std::size_t>(piece.plane) == p) bare += piece.unbalance_kg_m();
    // Of limited weights the sum is not the best that is allowed.
    if (own && !finding.used_prior) bare = own->influence.planes[p].bare_correction_kg_m;
    const auto number = [](const std::vector<SheetPiece>& list) { return static_cast<int>(list.size()) + 1; };
    if (std::abs(on_top) > 0.0) sheet.to_fit.push_back(sheet_piece(sheet, p, on_top, number(sheet.to_fit)));
    if (std::abs(bare) > 0.0) sheet.to_fit_bare.push_back(sheet_piece(sheet, p, bare, number(sheet.to_fit_bare)));
  }
}

/// What stood when those weights were fitted that are on the shaft and were fitted last.
const Finding* finding_of_last_fit(const Job& job, const JobState& state) {
  const Finding* standing = nullptr;
  const Finding* of_fit = nullptr;
  std::vector<FittedWeight> on;
  for (const Event& event : job.events) {
    if (state.taken_back.contains(event.number)) continue;
    if (const auto* spun = std::get_if<Spun>(&event.what)) standing = spun->finding ? &*spun->finding : nullptr;
    const auto* fitted = std::get_if<Fitted>(&event.what);
    if (fitted == nullptr) continue;
    const std::vector<FittedWeight> fresh = pieces_without(fitted->pieces, on);
    const bool stays = pieces_without(state.on_shaft, fresh).size() < state.on_shaft.size();
    if (stays) of_fit = standing;
    on = fitted->pieces;
  }
  return of_fit;
}

void add_note(std::vector<SheetNote>& notes, const SheetNote& note) {
  const auto same = [&](const SheetNote& other) { return other.said == note.said; };
  if (!note.said.empty() && std::none_of(notes.begin(), notes.end(), same)) notes.push_back(note);
}

void add_notes(Sheet& sheet, const Job& job, const JobState& state) {
  for (const Event& event : job.events) {
    if (const auto* back = std::get_if<TakenBack>(&event.what)) {
      add_note(sheet.notes, {back->reason, {}, {}});
      ++sheet.taken_back;
    }
    if (const auto* closed = std::get_if<Closed>(&event.what); closed != nullptr && state.closing == event.number)
      add_note(sheet.notes, {closed->reason, {}, {}});
  }
  for (const StandingSpin& spin : state.spins)
    for (const SaidWarning& warning : spin.spun.warnings)
      add_note(sheet.notes, {warning.message, warning.code, warning.sensor});
}

}  // namespace

Sheet sheet_of(const Job& job, UnitSystem units) {
  const JobState state = state_of(job.events);
  Sheet sheet;
  sheet.job = job.name;
  sheet.program = job.events.empty() ? job.program : job.events.back().program;
  sheet.opened_unix_s = job.opened_unix_s;
  sheet.date_unix_s = job.events.empty() ? job.opened_unix_s : job.events.back().at_unix_s;
  if (state.closing) sheet.closed_unix_s = job.events[static_cast<std::size_t>(*state.closing - 1)].at_unix_s;
  sheet.order = order_of(job);
  for (const int number : orders_after_close(job))
    sheet.ordered_after_close.push_back(job.events[static_cast<std::size_t>(number - 1)]);
  sheet.rig = job.rig();
  sheet.shaft = job.shaft();
  sheet.limits = limits_of(sheet.shaft);
  for (const StandingSpin& spin : state.spins) {
    const int number = static_cast<int>(sheet.spins.size()) + 1;
    sheet.spins.push_back(
        {number, spin.spun.label, spin.spun.speed_rad_s, without_folders(spin.spun.recording), spin.spun.sha256});
    if (spin.spun.speed_rad_s) sheet.balancing_speed_rad_s = spin.spun.speed_rad_s;
  }
  const Analysis own = analyse(job, std::nullopt);
  const Finding* finding = standing_finding(job, state);
  if (finding != nullptr) add_finding(sheet, *finding, own.solution, state);
  add_pieces(sheet, state, units);
  add_trials(sheet, state);
  if (finding != nullptr) add_next_fit(sheet, *finding, job, own.solution);
  if (const Finding* fitted = finding_of_last_fit(job, state)) {
    sheet.rig_taught_by = fitted->rig_taught_by;
    sheet.brought_in = fitted->brought_in;
  }
  add_notes(sheet, job, state);
  sheet.entries = static_cast<int>(job.events.size());
  sheet.seal = job.seal;
  for (const int number : state.signatures)
    sheet.signatures.push_back(job.events[static_cast<std::size_t>(number - 1)]);
  sheet.diagrams = diagrams_of_job(sheet, own.solution, state, finding);
  for (VectorDiagram& diagram : sheet.diagrams) diagram.units = units;
  return sheet;
}

Sheet sheet_of(const Log& log, const std::string& name, UnitSystem units) {
  const Job job = log.job(name);
  Sheet sheet = sheet_of(job, units);
  const std::vector<LogLink> links = log.links_of(job);
  if (!links.empty()) sheet.link = links.back();
  sheet.qualification = qualification_before(log, sheet.rig.name, sheet.date_unix_s);
  return sheet;
}

std::optional<SheetQualification> qualification_before(const Log& log, const std::string& rig, std::int64_t unix_s) {
  std::optional<SheetQualification> last;
  for (const RigWork& work : rig_works(log, rig, RigTask::qualification)) {
    const auto found = yardstick_of(work);
    if (found && found->at_unix_s <= unix_s) last = {found->at_unix_s, found->shaft, found->umar_kg_m};
  }
  return last;
}

}  // namespace counterspot
