#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "counterspot/job/next_step.hpp"
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

std::string clock_of(double angle_rad, const Rig& rig) {
  return clock_position(angle_rad, rig.rotation).text();
}

std::string place_of(const FittedWeight& piece, const Known& known) {
  std::string words = fmt::format("plane {}: {:.1f} g at {}, seen from end {}, the mark at 12:00, radius {:.1f} mm",
                                  known.shaft.planes[static_cast<std::size_t>(piece.plane)].name, piece.mass_kg * 1e3,
                                  clock_of(piece.angle_rad, known.rig), known.rig.viewing_end, piece.radius_m * 1e3);
  if (known.shaft.tube) {
    const ArcLength arc = arc_length(piece.angle_rad, known.shaft.tube->outside_diameter_m);
    words += fmt::format("; by tape {:.0f} mm {} from the mark", arc.length_m * 1e3, arc_direction_name(arc.direction));
  }
  if (!known.state.spins.empty() && known.state.spins.back().spun.speed_rad_s) {
    const double speed = *known.state.spins.back().spun.speed_rad_s;
    words += fmt::format("; it pulls with {:.0f} N", pull_N(piece.mass_kg, piece.radius_m, speed));
  }
  return words;
}

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

void tell_trial(const Plane& at, const PlannedTrial& planned, const Known& known, NextStep& step) {
  step.words += fmt::format("{} plane {}: {:.1f} g at {}", step.pieces.empty() ? "FIT a trial weight at" : " and at",
                            at.name, planned.piece.mass_kg * 1e3, clock_of(planned.piece.angle_rad, known.rig));
  step.details.push_back(place_of(planned.piece, known));
  step.details.push_back(
      fmt::format("it {}; {}", trial_rule_name(planned.weight.rule), trial_place_words(planned.place)));
  if (!planned.kind.empty())
    step.details.push_back("of the stock: " + planned.kind + "; 'job fit --as-asked' wants the same --stock");
  step.pieces.push_back(planned.piece);
}

void tell_no_trial(const Plane& at, NoTrial why, NextStep& step) {
  if (why == NoTrial::plane_full) {
    step.words = fmt::format("TAKE the weights off plane {}, then fit one trial weight there", at.name);
    if (at.at_most_kg) step.details.push_back(fmt::format("the plane may carry {:.1f} g in all", *at.at_most_kg * 1e3));
  } else if (why == NoTrial::nothing_in_stock) {
    step.words = fmt::format("FIND a trial weight for plane {}: nothing of the stock may be fitted there", at.name);
  } else {
    step.words = fmt::format("FIT a trial weight at plane {}, at the mark", at.name);
    step.details.emplace_back(
        "weigh it first; it should change the reading by about a third, and not pull with more than a tenth of what "
        "its "
        "support carries");
    if (at.at_most_kg) step.details.push_back(fmt::format("no more than {:.1f} g", *at.at_most_kg * 1e3));
  }
}

NextStep ask_for_trial(const Known& known, const TrialChoice& choice) {
  NextStep step{StepKind::fit_trial, "", {}, {}, true};
  for (const std::size_t plane : choice.planes) {
    const auto plan = planned_trial(known, plane);
    if (const auto* planned = std::get_if<PlannedTrial>(&plan))
      tell_trial(known.shaft.planes[plane], *planned, known, step);
    else
      tell_no_trial(known.shaft.planes[plane], std::get<NoTrial>(plan), step);
  }
  step.details.emplace_back(
      "then say what was fitted with 'job fit', and spin; earlier trial weights may stay on or come "
      "off, as long as 'job fit' says so");
  return step;
}

/// "A 35.7 g at 8:55, B 26.4 g at 3:45".
std::string short_words(const std::vector<FittedWeight>& pieces, const Known& known) {
  std::string words;
  for (const FittedWeight& piece : pieces) {
    words += fmt::format("{}{:.1f} g at {} in plane {}", words.empty() ? "" : ", ", piece.mass_kg * 1e3,
                         clock_of(piece.angle_rad, known.rig),
                         known.shaft.planes[static_cast<std::size_t>(piece.plane)].name);
  }
  return words.empty() ? "nothing" : words;
}

std::vector<FittedWeight> pieces_of(const Known& known, FitInstruction PlaneSolution::*which) {
  std::vector<FittedWeight> pieces;
  for (std::size_t p = 0; p < known.shaft.planes.size(); ++p) {
    const FitInstruction& fit = known.analysis.solution->planes[p].*which;
    if (fit.mass_kg != 0.0) pieces.push_back({static_cast<int>(p), fit.mass_kg, fit.radius_m, fit.angle_rad});
  }
  return pieces;
}

std::string expected_words(double over_limit, const Known& known) {
  return fmt::format("expected to leave about {:.0f} % of the limit{}", 100.0 * over_limit,
                     known.analysis.used_prior ? ", from what earlier shafts taught" : "");
}

void add_places(const std::vector<FittedWeight>& pieces, const Known& known, std::vector<std::string>& details) {
  for (const FittedWeight& piece : pieces) details.push_back(place_of(piece, known));
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

/// Trial weights usually come off before the correction is welded, so that choice is told first.
void tell_bare_first(const Instead& instead, const Known& known, NextStep& step) {
  std::string trials;
  for (int number : instead.take_off) {
    const FittedWeight& piece = known.state.on_shaft[static_cast<std::size_t>(number - 1)];
    trials += fmt::format("{}{}, {}", trials.empty() ? "piece " : "; piece ", number, short_words({piece}, known));
  }
  step.words = fmt::format("TAKE the trial weights off and FIT {}", short_words(instead.pieces, known));
  step.details.push_back("take off " + trials);
  add_places(instead.pieces, known, step.details);
  step.details.push_back(expected_words(instead.expected_over_limit, known) + "; if so, 'job fit --bare'");
}

NextStep ask_for_correction(const Known& known, double predicted) {
  NextStep step{StepKind::fit_correction, "", {}, pieces_of(known, &PlaneSolution::correction), true};
  step.expected_over_limit = predicted;
  step.instead = choice_of_bare(known);
  step.words = "FIT " + short_words(step.pieces, known);
  if (step.instead) {
    tell_bare_first(*step.instead, known, step);
    step.details.emplace_back("OR leave the trial weights on, and fit on top of them:");
  }
  add_places(step.pieces, known, step.details);
  step.details.push_back(step.instead ? expected_words(predicted, known) + "; if so, 'job fit --as-asked'"
                                      : "on top of what is on the shaft; " + expected_words(predicted, known));
  return step;
}

/// Where trial weights fill what a plane may carry, only without them is there room.
std::optional<NextStep> ask_for_bare_correction(const Known& known, double better_than) {
  NextStep step{StepKind::fit_correction, "", {}, {}, true};
  step.instead = choice_of_bare(known);
  if (!step.instead || step.instead->pieces.empty() || step.instead->expected_over_limit > better_than) return {};
  step.expected_over_limit = step.instead->expected_over_limit;
  tell_bare_first(*step.instead, known, step);
  step.details.emplace_back("with the trial weights on, the planes may carry nothing more that makes it better");
  return step;
}

NextStep ask_for_close(const Known& known) {
  const double ratio = finding_of(*known.analysis.solution).worst_ratio();
  return {
      StepKind::close,
      "CLOSE the job: the shaft is within limit",
      {fmt::format("the final residual is {:.0f} % of the limit; 'job close' writes it into the log", 100.0 * ratio)},
      {},
      false};
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

std::string words_of_speed(const std::optional<double>& speed_rad_s) {
  return speed_rad_s ? fmt::format(" at {:.0f} rpm", rpm(*speed_rad_s)) : "";
}

NextStep ask_for_spin(const Known& known, const std::optional<double>& speed_rad_s) {
  const bool as_found = known.state.on_shaft.empty() && !known.state.last_change;
  const std::string at_speed = words_of_speed(speed_rad_s);
  NextStep step{as_found ? StepKind::spin_as_found : StepKind::spin, "", {}, {}, true, speed_rad_s};
  if (as_found) {
    step.words = "SPIN the shaft as it was found" + at_speed;
    step.details.emplace_back(
        speed_rad_s ? "this shaft bends within its speed range: every set of weights is spun at each of these speeds"
                    : "with nothing fitted; record ten seconds or more at a steady speed, then 'job spin FILE'");
    return step;
  }
  const std::size_t on = known.state.on_shaft.size();
  step.words = "SPIN the shaft with the weights that are on it now" + at_speed;
  step.details.push_back(fmt::format("{} on; record at the speed of the spins before, then 'job spin FILE'",
                                     on == 0   ? "nothing is"
                                     : on == 1 ? "one piece is"
                                               : fmt::format("{} pieces are", on)));
  return step;
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

NextStep close_as_it_stands(const Known& known, std::vector<std::string> why) {
  const Verdict verdict = known.analysis.solution->judgement.verdict;
  why.push_back(fmt::format("'job close' writes it into the log as {}", verdict_name(verdict)));
  return {StepKind::close_not_within,
          fmt::format("CLOSE the job: {}", verdict == Verdict::outside ? "the shaft is not within limit"
                                                                       : "it cannot be said that it is within limit"),
          std::move(why),
          {},
          false};
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
  NextStep step{StepKind::mend, "CHECK before anything else: the readings are in doubt", {}, {}, true};
  for (const Warning& each : held_back) {
    step.details.push_back(
        each.spins.empty() ? each.message : fmt::format("spin '{}': {}", fmt::join(each.spins, "', '"), each.message));
    step.details.push_back("to mend it: " + each.what_to_do());
    const std::vector<int> entries = entries_of(each, known);
    if (entries.empty()) continue;
    step.details.push_back(fmt::format("then take entry {} back, put the weights of that spin on, and spin again",
                                       fmt::join(entries, ", ")));
    if (held_back.size() == 1 && entries.size() == 1) step.take_back = entries.front();
  }
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
    if (stays(reason.code)) return close_as_it_stands(known, {reason.message, reason.what_to_do()});
  const Warning& gravest = held_back.front();
  const auto spins = spins_of_now(known).size() + static_cast<std::size_t>(taken_back_now(known));
  if (repeated_enough(known) || taken_back_now(known) >= spins_alike_at_most) {
    return close_as_it_stands(
        known,
        {fmt::format("after {} spins with these weights still: {}", spins, gravest.message), gravest.what_to_do()});
  }
  if (gravest.code != WarningCode::spins_disagree) return ask_to_mend(known, held_back);
  return {StepKind::spin_again,
          "SPIN AGAIN: the spins contradict one another",
          {gravest.message, gravest.what_to_do()},
          {},
          true};
}

/// The largest expanded uncertainty over its limit: what no correction can lessen.
double unsure_over_limit(const Solution& solution) {
  double worst = 0.0;
  for (const Held& held : solution.judgement.held)
    worst = std::max(worst, coverage_factor * held.u_residual_kg_m / held.limit_kg_m);
  return worst;
}

/// At or under the limit, as far as the readings go, but not surely.
NextStep ask_to_be_surer(const Known& known, double predicted, double present) {
  const Solution& solution = *known.analysis.solution;
  if (!repeated_enough(known)) {
    return {StepKind::spin_again,
            "SPIN AGAIN, longer: too near the limit to be sure",
            {"nothing is to be fitted; a longer and calmer recording makes the uncertainty smaller"},
            {},
            true};
  }
  if (predicted < 0.9 * present && unsure_over_limit(solution) < 1.0 && corrections_so_far(known) < corrections_at_most)
    return ask_for_correction(known, predicted);
  return close_as_it_stands(
      known, {fmt::format("after {} spins alike the residual is {:.0f} % of the limit and its ± {:.0f} %",
                          spins_of_now(known).size(), 100.0 * present, 100.0 * unsure_over_limit(solution)),
              "'solve --budget' says what the ± comes from; heavier trial weights in a new job make it smaller"});
}

NextStep ask_to_correct(const Known& known, double predicted, double present) {
  if (corrections_so_far(known) >= corrections_at_most) {
    return close_as_it_stands(known, {fmt::format("{} corrections did not bring it within limit", corrections_at_most),
                                      "look for what changes from spin to spin: bolts, joints, bearings, the mark; and "
                                      "whether every weight was stated as it was fitted"});
  }
  NextStep step = ask_for_correction(known, predicted);
  const bool full = std::any_of(known.shaft.planes.begin(), known.shaft.planes.end(),
                                [](const Plane& plane) { return plane.at_most_kg.has_value(); });
  const double better = 0.95 * present;
  if (!step.pieces.empty() && !(full && predicted > better)) return step;
  if (auto bare = ask_for_bare_correction(known, better)) return *bare;
  return close_as_it_stands(known, {"no weight that the planes may still carry makes it better",
                                    "use other planes, or allow more (at_most)"});
}

/// What the weights are expected to bring, and why not the other way.
void tell_choice(NextStep& step) {
  const Choice& choice = *step.choice;
  const bool trial = step.kind == StepKind::fit_trial;
  if (!trial && step.kind != StepKind::fit_correction) return;
  std::string chances = fmt::format("chance that the vibration falls: {:.0f} %", 100.0 * choice.asked.falls);
  if (!trial)
    chances += fmt::format("; that the shaft is within limit with this spin: {:.0f} %", 100.0 * choice.asked.within);
  step.details.push_back(chances);
  if (std::isfinite(choice.asked.spins) && std::isfinite(choice.other.spins))
    step.details.push_back(fmt::format("spins still to come: about {:.1f} this way, about {:.1f} with a {} first",
                                       choice.asked.spins, choice.other.spins, trial ? "correction" : "trial weight"));
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
  tell_choice(step);
  return step;
}

NextStep ask_after_solution(const Known& known) {
  const Solution& solution = *known.analysis.solution;
  const double predicted = predicted_over_limit(solution, known.rig, known.shaft);
  const Judgement& judgement = solution.judgement;
  if (judgement.verdict == Verdict::within) return ask_for_close(known);
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
  const bool weight_asked = then.kind == StepKind::fit_trial || then.kind == StepKind::fit_correction;
  NextStep step{StepKind::say_fitted, "", {}, then.pieces, false};
  step.instead = then.instead;
  step.words =
      weight_asked
          ? fmt::format("SAY: a weight was asked for and none stated, but the reading moved by {:.0f} %: is it on?",
                        100.0 * moved.share)
          : fmt::format("SAY what is on: nothing was stated, but the reading moved by {:.0f} %", 100.0 * moved.share);
  add_places(then.pieces, known, step.details);
  if (!then.pieces.empty())
    step.details.emplace_back("it was on in the last spin as asked: 'job fit --was-on --as-asked'");
  step.details.emplace_back("another weight was on: 'job fit --was-on \"A 12.5 g @ 138.4 deg\"'");
  step.details.emplace_back("nothing was fitted or came off: 'job fit --unchanged', and look why the reading moved");
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
  return {
      StepKind::mend, "CHECK the spins: they give no answer", {known.analysis.why, known.analysis.remedy}, {}, true};
}

}  // namespace

NextStep next_step(const Job& job, const Analysis& analysis, const std::optional<FamilyPrior>& prior,
                   const Stock* stock) {
  const JobState state = state_of(job.events);
  const Known known{job, state, job.rig(), job.shaft(), motions_of(state), analysis, stock};
  if (!known.state.open) return {StepKind::nothing, "NOTHING: the job is closed", {}, {}, false};
  if (known.state.spins.empty() || stated_since_spin(known.state)) return ask_for_fresh_spin(known);
  NextStep step = ask_by_spins(known, prior);
  // A statement that was taken back is asked for again; what else rests on the last spin waits for a new one.
  const bool ends_here =
      step.kind == StepKind::close || step.kind == StepKind::close_not_within || step.kind == StepKind::spin_again;
  if (!known.state.final_spin() && ends_here) return ask_for_fresh_spin(known);
  return step;
}

}  // namespace counterspot
