#include "counterspot/job/next_step.hpp"

#include <algorithm>
#include <cmath>

#include "counterspot/shaft/beam.hpp"
#include "counterspot/solve/plan.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// A weight that is not this likely to lessen the residual is a trial's business: nobody welds on hope (common
/// practice, no source).
constexpr double likely_to_fall = 0.9;

/// A trial is one more fitting too; it has to save this part of a spin beside its own (common practice, no source).
constexpr double worth_a_trial = 0.1;

/// Where no prospect can be had (several speeds): of a residual with two normal parts of that root-mean-square over the
/// limit, 63 % are within it (Rayleigh: 1 − 1/e).
constexpr double good_enough = 1.0;

struct Known {
  const Job& job;
  const JobState state;
  const Rig rig;
  const Shaft shaft;
  const std::vector<Motion> motions;
  const Analysis& analysis;
  const Stock* stock = nullptr;
};

/// What one plane's weights changed in the readings, from two spins that differ there alone.
std::vector<Phasor> effects_of_plane(const StandingSpin& one, const StandingSpin& other, const Phasor& weights) {
  std::vector<Phasor> effects;
  bool clear = false;
  for (std::size_t s = 0; s < one.spun.readings.size(); ++s) {
    const SensorReading& before = one.spun.readings[s];
    const SensorReading& after = other.spun.readings[s];
    const Phasor change = after.value - before.value;
    clear |= std::norm(change) > 9.0 * (before.covariance + after.covariance).trace();
    effects.push_back(change / weights);
  }
  return clear ? effects : std::vector<Phasor>(effects.size());
}

bool at_one_speed(const std::optional<double>& one, const std::optional<double>& other) {
  return !one || !other || std::abs(*one / *other - 1.0) <= SolveOptions{}.speed_tolerance;
}

/// Of the planes that had a trial weight of their own, before all of them had one.
std::vector<Phasor> own_effects(const Known& known) {
  const std::size_t planes = known.shaft.planes.size();
  const auto& spins = known.state.spins;
  std::vector<Phasor> coefficients(planes * spins.front().spun.readings.size());
  for (std::size_t one = 0; one < spins.size(); ++one) {
    for (std::size_t other = one + 1; other < spins.size(); ++other) {
      if (!at_one_speed(spins[one].spun.speed_rad_s, spins[other].spun.speed_rad_s)) continue;
      std::vector<Phasor> change(planes);
      for (const FittedWeight& piece : spins[other].fitted)
        change[static_cast<std::size_t>(piece.plane)] += piece.unbalance_kg_m();
      for (const FittedWeight& piece : spins[one].fitted)
        change[static_cast<std::size_t>(piece.plane)] -= piece.unbalance_kg_m();
      const auto changed = [](const Phasor& weights) { return std::abs(weights) > 1e-12; };
      if (std::count_if(change.begin(), change.end(), changed) != 1) continue;
      const auto at = std::find_if(change.begin(), change.end(), changed);
      const auto effects = effects_of_plane(spins[one], spins[other], *at);
      for (std::size_t s = 0; s < effects.size(); ++s)
        coefficients[s * planes + static_cast<std::size_t>(at - change.begin())] = effects[s];
    }
  }
  return coefficients;
}

std::vector<Phasor> values_of(const std::vector<SensorReading>& readings) {
  std::vector<Phasor> values;
  for (const SensorReading& reading : readings) values.push_back(reading.value);
  return values;
}

/// The plan of trial weights rests on what spins and earlier shafts told of this one.
std::variant<PlannedTrial, NoTrial> planned_trial(const Known& known, std::size_t plane) {
  const Spun& last = known.state.spins.back().spun;
  if (!last.speed_rad_s) return NoTrial::nothing_known;
  TrialBasis basis;
  basis.speed_rad_s = *last.speed_rad_s;
  basis.on_shaft = known.state.on_shaft;
  basis.as_found = values_of(known.state.spins.front().spun.readings);
  basis.present = values_of(last.readings);
  basis.coefficients =
      known.analysis.solution ? values_of(known.analysis.solution->influence.coefficients) : own_effects(known);
  basis.stock = known.stock;
  try {
    return plan_trial(known.shaft, plane, basis);
  } catch (const Error&) {  // nothing to choose by: the operator does
    return NoTrial::nothing_known;
  }
}

ProspectBasis basis_of(const Known& known) {
  return {known.rig,
          known.shaft,
          known.motions,
          known.analysis.solved_with,
          readings_of(known.state),
          *known.analysis.solution};
}

/// Planes that get a trial weight in one spin, and what that is expected to bring.
struct TrialChoice {
  std::vector<std::size_t> planes;
  Prospect prospect = {};
};

/// The first plane that no spin has told anything of.
std::optional<std::size_t> plane_without_trial(const Known& known) {
  for (std::size_t p = 0; p < known.shaft.planes.size(); ++p) {
    auto at_plane = [&](const StandingSpin& spin) {
      Phasor sum;
      for (const FittedWeight& piece : spin.fitted)
        if (piece.plane == static_cast<int>(p)) sum += piece.unbalance_kg_m();
      return sum;
    };
    const Phasor first = at_plane(known.state.spins.front());
    const auto& spins = known.state.spins;
    if (std::all_of(spins.begin(), spins.end(), [&](const auto& spin) { return at_plane(spin) == first; })) return p;
  }
  return std::nullopt;
}

/// One plane, or all of them in one spin, whatever leaves the fewest spins to come.
TrialChoice best_trial(const Known& known) {
  if (!known.analysis.used_prior || known.analysis.own_coefficients) return {{plane_without_trial(known).value_or(0)}};
  const ProspectBasis basis = basis_of(known);
  TrialChoice best{{plane_without_trial(known).value_or(0)}};
  TrialChoice all;
  std::vector<FittedWeight> pieces;
  const auto consider = [&](TrialChoice choice, const std::vector<FittedWeight>& with) {
    choice.prospect = prospect_of_trial(basis, with);
    if (choice.prospect.spins < best.prospect.spins) best = std::move(choice);
  };
  for (std::size_t p = 0; p < known.shaft.planes.size(); ++p) {
    const auto plan = planned_trial(known, p);
    const auto* planned = std::get_if<PlannedTrial>(&plan);
    if (planned == nullptr) continue;
    consider({{p}}, {planned->piece});
    all.planes.push_back(p);
    pieces.push_back(planned->piece);
  }
  if (all.planes.size() == known.shaft.planes.size() && pieces.size() > 1) consider(all, pieces);
  return best;
}

NextStep ask_for_trial(const Known& known, const TrialChoice& choice) {
  NextStep step{StepKind::fit_trial};
  for (const std::size_t plane : choice.planes) {
    step.trials.push_back({plane, planned_trial(known, plane)});
    if (const auto* planned = std::get_if<PlannedTrial>(&step.trials.back().plan))
      step.pieces.push_back(planned->piece);
  }
  return step;
}

std::vector<FittedWeight> pieces_of(const Known& known, FitInstruction PlaneSolution::*which) {
  std::vector<FittedWeight> pieces;
  for (std::size_t p = 0; p < known.shaft.planes.size(); ++p) {
    const FitInstruction& fit = known.analysis.solution->planes[p].*which;
    if (fit.mass_kg != 0.0) pieces.push_back({static_cast<int>(p), fit.mass_kg, fit.radius_m, fit.angle_rad});
  }
  return pieces;
}

/// Empty if no trial weight is on.
std::optional<Instead> choice_of_bare(const Known& known) {
  Instead instead{{}, pieces_of(known, &PlaneSolution::correction_bare), 0.0};
  std::vector<FittedWeight> trials = known.analysis.solution->trial_weights;
  for (std::size_t i = 0; i < known.state.on_shaft.size(); ++i) {
    const auto trial = std::find(trials.begin(), trials.end(), known.state.on_shaft[i]);
    if (trial == trials.end()) continue;
    trials.erase(trial);
    instead.take_off.push_back(static_cast<int>(i) + 1);
  }
  if (instead.take_off.empty()) return std::nullopt;
  instead.expected_over_limit = predicted_over_limit(*known.analysis.solution, known.rig, known.shaft, Base::bare);
  return instead;
}

NextStep ask_for_correction(const Known& known, double predicted) {
  NextStep step{StepKind::fit_correction, pieces_of(known, &PlaneSolution::correction)};
  step.expected_over_limit = predicted;
  step.instead = choice_of_bare(known);
  return step;
}

/// Where trial weights fill what a plane may carry, only without them is there room.
std::optional<NextStep> ask_for_bare_correction(const Known& known, double better_than) {
  NextStep step{StepKind::fit_correction};
  step.instead = choice_of_bare(known);
  if (!step.instead || step.instead->pieces.empty() || step.instead->expected_over_limit > better_than) return {};
  step.expected_over_limit = step.instead->expected_over_limit;
  return step;
}

/// Speeds at which the shaft was spun as found, in order.
std::vector<double> speeds_as_found(const Known& known) {
  std::vector<double> speeds;
  for (const StandingSpin& spin : known.state.spins) {
    if (spin.fitted != known.state.spins.front().fitted) break;
    if (!spin.spun.speed_rad_s) continue;
    const bool again = std::any_of(speeds.begin(), speeds.end(),
                                   [&](double speed) { return at_one_speed(speed, spin.spun.speed_rad_s); });
    if (!again) speeds.push_back(*spin.spun.speed_rad_s);
  }
  return speeds;
}

/// Of a shaft that bends: the second speed at which it is to be spun as found, if it was spun at one only, once.
std::optional<double> second_speed(const Known& known) {
  const auto& first = known.state.spins.front().spun.speed_rad_s;
  if (known.shaft.planes.size() < 3 || known.state.spins.size() != 1 || !first || !known.shaft.service_speed_rad_s)
    return std::nullopt;
  const auto safe = safe_speed_rad_s(known.shaft);
  if (!safe || *known.shaft.service_speed_rad_s <= *safe) return std::nullopt;
  const double near = 0.93 * *safe;  // where the bending shows, and the speed may still waver
  return *first < 0.9 * near ? near : 0.6 * *first;
}

/// The spins since the weights were last changed.
std::vector<const StandingSpin*> spins_of_now(const Known& known) {
  std::vector<const StandingSpin*> list;
  for (const StandingSpin& spin : known.state.spins)
    if (!known.state.last_change || spin.number > *known.state.last_change) list.push_back(&spin);
  return list;
}

/// A speed of the as-found spins at which the present weights were not spun yet.
std::optional<double> speed_missing(const Known& known) {
  if (known.state.spins.empty()) return std::nullopt;
  if (const auto second = second_speed(known)) return second;
  const std::vector<double> speeds = speeds_as_found(known);
  if (speeds.size() < 2) return std::nullopt;
  const auto now = spins_of_now(known);
  for (double speed : speeds) {
    auto at_it = [&](const StandingSpin* spin) { return at_one_speed(speed, spin->spun.speed_rad_s); };
    if (std::none_of(now.begin(), now.end(), at_it)) return speed;
  }
  return std::nullopt;
}

NextStep ask_for_spin(const Known& known, const std::optional<double>& speed_rad_s) {
  const bool as_found = known.state.on_shaft.empty() && !known.state.last_change;
  return {as_found ? StepKind::spin_as_found : StepKind::spin, {}, speed_rad_s};
}

/// The same weights were spun so often that once more would say nothing new.
bool repeated_enough(const Known& known) {
  const std::size_t speeds = std::max<std::size_t>(1, speeds_as_found(known).size());
  return spins_of_now(known).size() >= speeds * spins_alike_at_most;
}

/// How often the weights were changed beyond the trials that every plane needs.
int corrections_so_far(const Known& known) {
  int states = 0;
  const std::vector<FittedWeight>* before = nullptr;
  for (const StandingSpin& spin : known.state.spins) {
    if (before == nullptr || spin.fitted != *before) ++states;
    before = &spin.fitted;
  }
  return states - 1 - static_cast<int>(known.shaft.planes.size());
}

/// The largest expanded uncertainty over its limit: what no correction can lessen.
double unsure_over_limit(const Solution& solution) {
  double worst = 0.0;
  for (const Held& held : solution.judgement.held)
    worst = std::max(worst, coverage_factor * held.u_residual_kg_m / held.limit_kg_m);
  return worst;
}

NextStep close_as_it_stands(const Known& known, EndReason reason, std::vector<Doubt> doubts = {}) {
  NextStep step{StepKind::close_not_within};
  step.end = End{reason, spins_of_now(known).size(), unsure_over_limit(*known.analysis.solution)};
  step.doubts = std::move(doubts);
  return step;
}

/// No further spin or weight of this job can take these away.
bool stays(WarningCode code) {
  switch (code) {
    case WarningCode::flexible_shaft:
    case WarningCode::mode_unseen:
    case WarningCode::limit_missing:
    case WarningCode::qualification_failed: return true;
    default: return false;
  }
}

/// Spins with the present weights that were taken back.
int taken_back_now(const Known& known) {
  int count = 0;
  for (const Event& event : known.job.events) {
    const bool now = !known.state.last_change || event.number > *known.state.last_change;
    if (now && std::holds_alternative<Spun>(event.what) && known.state.taken_back.contains(event.number)) ++count;
  }
  return count;
}

/// The entries that a reason speaks of, to be taken back.
std::vector<int> entries_of(const Warning& reason, const Known& known) {
  std::vector<int> numbers;
  for (const StandingSpin& spin : known.state.spins)
    if (std::find(reason.spins.begin(), reason.spins.end(), spin.spun.label) != reason.spins.end())
      numbers.push_back(spin.number);
  return numbers;
}

NextStep ask_to_mend(const Known& known, const Warnings& held_back) {
  NextStep step{StepKind::mend};
  for (const Warning& each : held_back) step.doubts.push_back({each, entries_of(each, known)});
  if (step.doubts.size() == 1 && step.doubts.front().entries.size() == 1)
    step.take_back = step.doubts.front().entries.front();
  return step;
}

/// What speaks against the last spin by itself: nothing more is fitted on its word.
Warnings doubts_of_last_spin(const Known& known) {
  Warnings doubts = readings_of(known.state).back().noticed;
  std::erase_if(doubts, [](const Warning& each) { return stays(each.code); });
  for (Warning& each : doubts) each.spins = {known.state.spins.back().spun.label};
  return gathered(doubts);
}

/// What was measured is within, and something speaks against the readings.
NextStep ask_to_remedy(const Known& known, const Warnings& held_back) {
  for (const Warning& reason : held_back)
    if (stays(reason.code)) return close_as_it_stands(known, EndReason::stays_in_doubt, {{reason, {}}});
  const Doubt gravest{held_back.front(), {}};
  const auto spins = spins_of_now(known).size() + static_cast<std::size_t>(taken_back_now(known));
  if (repeated_enough(known) || taken_back_now(known) >= spins_alike_at_most) {
    NextStep step = close_as_it_stands(known, EndReason::still_in_doubt, {gravest});
    step.end->spins_alike = spins;
    return step;
  }
  if (gravest.warning.code != WarningCode::spins_disagree) return ask_to_mend(known, held_back);
  NextStep step{StepKind::spin_again};
  step.doubts = {gravest};
  return step;
}

/// At or under the limit, as far as the readings go, but not surely.
NextStep ask_to_be_surer(const Known& known, double predicted, double present) {
  if (!repeated_enough(known)) return {StepKind::spin_again};
  if (predicted < 0.9 * present && unsure_over_limit(*known.analysis.solution) < 1.0 &&
      corrections_so_far(known) < corrections_at_most)
    return ask_for_correction(known, predicted);
  return close_as_it_stands(known, EndReason::too_unsure);
}

NextStep ask_to_correct(const Known& known, double predicted, double present) {
  if (corrections_so_far(known) >= corrections_at_most) return close_as_it_stands(known, EndReason::too_many);
  NextStep step = ask_for_correction(known, predicted);
  const bool full = std::any_of(known.shaft.planes.begin(), known.shaft.planes.end(),
                                [](const Plane& plane) { return plane.at_most_kg.has_value(); });
  const double better = 0.95 * present;
  if (!step.pieces.empty() && !(full && predicted > better)) return step;
  if (auto bare = ask_for_bare_correction(known, better)) return *bare;
  return close_as_it_stands(known, EndReason::no_room);
}

/// Before the job's own spins suffice: a correction on the word of earlier shafts, or a trial, whichever is expected to
/// end the job with fewer spins.
NextStep choose_what_to_fit(const Known& known, double predicted, double present) {
  const Prospect correction = prospect_of_correction(basis_of(known), pieces_of(known, &PlaneSolution::correction));
  if (!std::isfinite(correction.spins))
    return predicted <= good_enough ? ask_to_correct(known, predicted, present)
                                    : ask_for_trial(known, best_trial(known));
  const TrialChoice trial = best_trial(known);
  const bool correct = correction.falls >= likely_to_fall && correction.spins < trial.prospect.spins + worth_a_trial;
  NextStep step = correct ? ask_to_correct(known, predicted, present) : ask_for_trial(known, trial);
  step.choice = correct ? Choice{correction, trial.prospect} : Choice{trial.prospect, correction};
  return step;
}

NextStep ask_after_solution(const Known& known) {
  const Solution& solution = *known.analysis.solution;
  const double predicted = predicted_over_limit(solution, known.rig, known.shaft);
  const Judgement& judgement = solution.judgement;
  if (judgement.verdict == Verdict::within) return {StepKind::close};
  const double present = finding_of(solution).worst_ratio();
  if (judgement.verdict == Verdict::unsure && present <= 1.0) {
    const std::size_t places = judgement.held.size() - solution.modes.size();  // modes come last
    const bool within_elsewhere =
        std::all_of(judgement.held.begin(), judgement.held.begin() + static_cast<std::ptrdiff_t>(places),
                    [](const Held& held) { return held.verdict == Verdict::within; });
    if (!judgement.held_back.empty() && within_elsewhere) return ask_to_remedy(known, judgement.held_back);
    if (predicted > 0.5 * present) return ask_to_be_surer(known, predicted, present);
  }
  if (!known.analysis.own_coefficients) return choose_what_to_fit(known, predicted, present);
  return ask_to_correct(known, predicted, present);
}

/// Are there planes of which nothing is known, or too few spins for an answer?
bool wants_trials(const Known& known) {
  const std::size_t speeds = std::max<std::size_t>(1, speeds_as_found(known).size());
  return plane_without_trial(known) || known.state.spins.size() < speeds * (known.shaft.planes.size() + 1);
}

/// The job as it was before an entry.
Job before_entry(const Job& job, int number) {
  Job before = job;
  before.events.resize(static_cast<std::size_t>(number - 1));
  return before;
}

/// The reading moved and nothing was stated: what was asked for then may be on.
NextStep ask_what_is_on(const Known& known, const std::optional<FamilyPrior>& prior) {
  const MovedReading& moved = *known.analysis.moved;
  const Job before = before_entry(known.job, moved.spins.front());
  const NextStep then = next_step(before, analyse(before, prior), prior, known.stock);
  NextStep step{StepKind::say_fitted, then.pieces};
  step.instead = then.instead;
  step.weight_asked = then.kind == StepKind::fit_trial || then.kind == StepKind::fit_correction;
  return step;
}

bool stated_since_spin(const JobState& state) {
  return state.last_stated && *state.last_stated > state.spins.back().number;
}

NextStep ask_for_fresh_spin(const Known& known) {
  return ask_for_spin(known, known.state.spins.empty() ? std::nullopt : speed_missing(known));
}

NextStep ask_by_spins(const Known& known, const std::optional<FamilyPrior>& prior) {
  if (known.analysis.moved) return ask_what_is_on(known, prior);
  if (const auto speed = speed_missing(known)) return ask_for_spin(known, speed);
  if (known.analysis.solution) return ask_after_solution(known);
  const Warnings doubts = doubts_of_last_spin(known);
  if (!doubts.empty() && taken_back_now(known) < spins_alike_at_most) return ask_to_mend(known, doubts);
  if (wants_trials(known)) return ask_for_trial(known, best_trial(known));
  return {StepKind::mend};
}

}  // namespace

bool wants_hands(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found:
    case StepKind::spin:
    case StepKind::spin_again:
    case StepKind::fit_trial:
    case StepKind::fit_correction:
    case StepKind::mend: return true;
    default: return false;
  }
}

NextStep next_step(const Job& job, const Analysis& analysis, const std::optional<FamilyPrior>& prior,
                   const Stock* stock) {
  const JobState state = state_of(job.events);
  const Known known{job, state, job.rig(), job.shaft(), motions_of(state), analysis, stock};
  if (!known.state.open) return {StepKind::nothing};
  if (known.state.spins.empty() || stated_since_spin(known.state)) return ask_for_fresh_spin(known);
  NextStep step = ask_by_spins(known, prior);
  // A statement that was taken back is asked for again; what else rests on the last spin waits for a new one.
  const bool ends_here =
      step.kind == StepKind::close || step.kind == StepKind::close_not_within || step.kind == StepKind::spin_again;
  if (!known.state.final_spin() && ends_here) return ask_for_fresh_spin(known);
  return step;
}

}  // namespace counterspot
