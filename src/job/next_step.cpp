#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/error.hpp"
#include "counterspot/learning.hpp"
#include "counterspot/trial.hpp"

namespace counterspot {

namespace {

/// A correction on the strength of earlier shafts alone is worth its spin if what it is expected to leave is no more
/// than the limit: of a residual with two normal parts of that root-mean-square, 63 % are within the limit (Rayleigh: 1
/// − 1/e). If it is not, it has taught what a trial would have taught, and most of the unbalance is gone.
constexpr double good_enough = 1.0;

struct Known {
  const Job& job;
  const JobState state;
  const Rig rig;
  const Shaft shaft;
  const Analysis& analysis;
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

/// The sensor that feels the plane most, and what it read; known only if earlier shafts or trials told.
void add_coefficient(TrialQuestion& question, std::size_t plane, const Known& known) {
  if (!known.analysis.solution) return;
  const auto& coefficients = known.analysis.solution->influence.coefficients;
  const std::size_t planes = known.shaft.planes.size();
  const auto& readings = known.state.spins.front().spun.readings;
  for (std::size_t s = 0; s < readings.size(); ++s) {
    const double magnitude = std::abs(coefficients[s * planes + plane].value);
    if (magnitude <= question.coefficient_magnitude.value_or(0.0)) continue;
    question.coefficient_magnitude = magnitude;
    question.reading = std::abs(readings[s].value);
  }
}

std::optional<double> trial_mass_kg(const Known& known, std::size_t plane) {
  const auto& speed = known.state.spins.back().spun.speed_rad_s;
  if (!speed) return std::nullopt;
  TrialQuestion question;
  question.plane = known.shaft.planes[plane].name;
  question.radius_m = known.shaft.planes[plane].radius_m;
  question.speed_rad_s = *speed;
  if (known.shaft.mass_kg) question.support_load_kg = 0.5 * *known.shaft.mass_kg;
  for (const PlaneLimit& limit : limits_of(known.shaft).planes) {
    if (limit.name == question.plane) question.limit_kg_m = limit.limit_kg_m;
  }
  add_coefficient(question, plane, known);
  try {
    return choose_trial(question).mass_kg;
  } catch (const Error&) {  // nothing to choose by: the operator does
    return std::nullopt;
  }
}

/// Without knowledge at the mark; with it where the correction will be, so that the trial also helps.
FittedWeight trial_at(std::size_t plane, const Known& known) {
  FittedWeight piece{static_cast<int>(plane), 0.0, known.shaft.planes[plane].radius_m, 0.0};
  piece.mass_kg = trial_mass_kg(known, plane).value_or(0.0);
  if (known.analysis.solution) {
    const FitInstruction& wanted = known.analysis.solution->planes[plane].correction;
    piece.angle_rad = wanted.angle_rad;
    if (piece.mass_kg == 0.0) piece.mass_kg = wanted.mass_kg;
  }
  return piece;
}

/// What a trial would leave unknown: the last spin repeated with that piece on, read as the coefficients foretell.
double after_trial(const FittedWeight& piece, const Known& known, const FamilyPrior& prior) {
  std::vector<SpinReading> spins = readings_of(known.state);
  SpinReading trial = spins.back();
  const std::size_t planes = known.shaft.planes.size();
  for (std::size_t s = 0; s < trial.vectors.size(); ++s) {
    const auto& coefficients = known.analysis.solution->influence.coefficients;
    trial.vectors[s] += coefficients[s * planes + static_cast<std::size_t>(piece.plane)].value * piece.unbalance_kg_m();
  }
  trial.fitted.push_back(piece);
  spins.insert(spins.end() - 1, trial);  // the shaft's present state stays the last
  SolveOptions options;
  options.influence.prior = prior.coefficients;
  try {
    const Solution then = solve_readings(known.rig, known.shaft, spins, motions_of(known.state), options);
    return predicted_over_limit(then, known.rig, known.shaft);
  } catch (const Error&) {
    return INFINITY;
  }
}

/// The first plane that no spin has told anything of.
std::size_t plane_without_trial(const Known& known) {
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
  return 0;
}

std::size_t most_helpful_plane(const Known& known, const std::optional<FamilyPrior>& prior) {
  if (!prior || !known.analysis.used_prior) return plane_without_trial(known);
  std::size_t best = 0;
  double least = INFINITY;
  for (std::size_t p = 0; p < known.shaft.planes.size(); ++p) {
    const double left = after_trial(trial_at(p, known), known, *prior);
    if (left >= least) continue;
    least = left;
    best = p;
  }
  return best;
}

NextStep ask_for_trial(const Known& known, const std::optional<FamilyPrior>& prior) {
  const std::size_t plane = most_helpful_plane(known, prior);
  const FittedWeight piece = trial_at(plane, known);
  NextStep step{StepKind::fit_trial, "", {}, {}, true};
  const std::string& name = known.shaft.planes[plane].name;
  if (piece.mass_kg > 0.0) {
    step.words = fmt::format("FIT a trial weight at plane {}: {:.1f} g at {}", name, piece.mass_kg * 1e3,
                             clock_of(piece.angle_rad, known.rig));
    step.details.push_back(place_of(piece, known));
    step.pieces.push_back(piece);
  } else {
    step.words = fmt::format("FIT a trial weight at plane {}, at the mark", name);
    step.details.emplace_back(
        "weigh it first; it should change the reading by about a third, and not pull with more than a tenth of what "
        "its "
        "support carries");
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
  step.details.push_back("OR leave the trial weights on, and fit on top of them:");
}

NextStep ask_for_correction(const Known& known, double predicted) {
  NextStep step{StepKind::fit_correction, "", {}, pieces_of(known, &PlaneSolution::correction), true};
  step.expected_over_limit = predicted;
  step.instead = choice_of_bare(known);
  step.words = "FIT " + short_words(step.pieces, known);
  if (step.instead) tell_bare_first(*step.instead, known, step);
  add_places(step.pieces, known, step.details);
  step.details.push_back(step.instead ? expected_words(predicted, known) + "; if so, 'job fit --as-asked'"
                                      : "on top of what is on the shaft; " + expected_words(predicted, known));
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

NextStep ask_for_spin(const Known& known) {
  if (known.state.spins.empty() && known.state.on_shaft.empty()) {
    return {StepKind::spin_as_found,
            "SPIN the shaft as it was found",
            {"with nothing fitted; record ten seconds or more at a steady speed, then 'job spin FILE'"},
            {},
            true};
  }
  const std::size_t on = known.state.on_shaft.size();
  return {StepKind::spin,
          "SPIN the shaft with the weights that are on it now",
          {fmt::format("{} on; record at the speed of the spins before, then 'job spin FILE'",
                       on == 0   ? "nothing is"
                       : on == 1 ? "one piece is"
                                 : fmt::format("{} pieces are", on))},
          {},
          true};
}

NextStep ask_after_solution(const Known& known, const std::optional<FamilyPrior>& prior) {
  const Solution& solution = *known.analysis.solution;
  const double predicted = predicted_over_limit(solution, known.rig, known.shaft);
  const Verdict verdict = solution.judgement.verdict;
  if (verdict == Verdict::within) return ask_for_close(known);
  const double present = finding_of(solution).worst_ratio();
  if (verdict == Verdict::unsure && present <= 1.0 && predicted > 0.5 * present) {
    return {StepKind::spin_again,
            "SPIN AGAIN, longer: too near the limit to be sure",
            {"nothing is to be fitted; a longer and calmer recording makes the uncertainty smaller"},
            {},
            true};
  }
  if (!known.analysis.own_coefficients && predicted > good_enough) return ask_for_trial(known, prior);
  return ask_for_correction(known, predicted);
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
  const NextStep then = next_step(before, analyse(before, prior), prior);
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

NextStep ask_by_spins(const Known& known, const std::optional<FamilyPrior>& prior) {
  if (known.analysis.moved) return ask_what_is_on(known, prior);
  if (known.analysis.solution) return ask_after_solution(known, prior);
  const std::size_t enough = known.shaft.planes.size() + 1;
  if (known.state.spins.size() < enough) return ask_for_trial(known, prior);
  return {
      StepKind::mend, "CHECK the spins: they give no answer", {known.analysis.why, known.analysis.remedy}, {}, true};
}

}  // namespace

NextStep next_step(const Job& job, const Analysis& analysis, const std::optional<FamilyPrior>& prior) {
  const Known known{job, state_of(job.events), job.rig(), job.shaft(), analysis};
  if (!known.state.open) return {StepKind::nothing, "NOTHING: the job is closed", {}, {}, false};
  if (known.state.spins.empty() || stated_since_spin(known.state)) return ask_for_spin(known);
  NextStep step = ask_by_spins(known, prior);
  // A statement that was taken back is asked for again; what else rests on the last spin waits for a new one.
  const bool ends_here = step.kind == StepKind::close || step.kind == StepKind::spin_again;
  if (!known.state.final_spin() && ends_here) return ask_for_spin(known);
  return step;
}

}  // namespace counterspot
