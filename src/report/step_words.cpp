#include "report/step_words.hpp"

#include <fmt/format.h>

#include <fmt/ranges.h>
#include <cmath>

namespace counterspot {

namespace {

using Details = std::vector<std::string>;

/// What the words are about.
struct Told {
  const NextStep& step;
  const Job& job;
  const Analysis& analysis;
  const JobState state;

  const Plane& plane(std::size_t index) const { return job.shaft().planes[index]; }
  const Plane& plane_of(const FittedWeight& piece) const { return plane(static_cast<std::size_t>(piece.plane)); }
};

std::string clock_of(const FittedWeight& piece, const Told& told) {
  return clock_position(piece.angle_rad, told.job.rig().rotation).text();
}

std::string place_of(const FittedWeight& piece, const Told& told) {
  const Shaft& shaft = told.job.shaft();
  std::string words = fmt::format("plane {}: {:.1f} g at {}, seen from end {}, the mark at 12:00, radius {:.1f} mm",
                                  told.plane_of(piece).name, piece.mass_kg * 1e3, clock_of(piece, told),
                                  told.job.rig().viewing_end, piece.radius_m * 1e3);
  if (shaft.tube) {
    const ArcLength arc = arc_length(piece.angle_rad, shaft.tube->outside_diameter_m);
    words += fmt::format("; by tape {:.0f} mm {} from the mark", arc.length_m * 1e3, arc_direction_name(arc.direction));
  }
  if (!told.state.spins.empty() && told.state.spins.back().spun.speed_rad_s) {
    const double speed = *told.state.spins.back().spun.speed_rad_s;
    words += fmt::format("; it pulls with {:.0f} N", pull_N(piece.mass_kg, piece.radius_m, speed));
  }
  return words;
}

void add_places(const std::vector<FittedWeight>& pieces, const Told& told, Details& details) {
  for (const FittedWeight& piece : pieces) details.push_back(place_of(piece, told));
}

/// "35.7 g at 8:55 in plane A, 26.4 g at 3:45 in plane B".
std::string short_words(const std::vector<FittedWeight>& pieces, const Told& told) {
  std::string words;
  for (const FittedWeight& piece : pieces) {
    words += fmt::format("{}{:.1f} g at {} in plane {}", words.empty() ? "" : ", ", piece.mass_kg * 1e3,
                         clock_of(piece, told), told.plane_of(piece).name);
  }
  return words.empty() ? "nothing" : words;
}

StepWords words_of_spin(const Told& told) {
  const auto& speed = told.step.speed_rad_s;
  const std::string at_speed = speed ? fmt::format(" at {:.0f} rpm", rpm(*speed)) : "";
  if (told.step.kind == StepKind::spin_as_found) {
    return {"SPIN the shaft as it was found" + at_speed,
            {speed ? "this shaft bends within its speed range: every set of weights is spun at each of these speeds"
                   : "with nothing fitted; record ten seconds or more at a steady speed, then 'job spin FILE'"}};
  }
  const std::size_t on = told.state.on_shaft.size();
  const std::string pieces = on == 0 ? "nothing is" : on == 1 ? "one piece is" : fmt::format("{} pieces are", on);
  return {"SPIN the shaft with the weights that are on it now" + at_speed,
          {pieces + " on; record at the speed of the spins before, then 'job spin FILE'"}};
}

StepWords words_of_spin_again(const Told& told) {
  if (told.step.doubts.empty()) {
    return {"SPIN AGAIN, longer: too near the limit to be sure",
            {"nothing is to be fitted; a longer and calmer recording makes the uncertainty smaller"}};
  }
  const Warning& doubt = told.step.doubts.front().warning;
  return {"SPIN AGAIN: the spins contradict one another", {doubt.message, doubt.what_to_do()}};
}

void add_planned(const PlannedTrial& planned, const Told& told, StepWords& said) {
  const FittedWeight& piece = planned.piece;
  said.words += fmt::format("{} plane {}: {:.1f} g at {}", said.words.empty() ? "FIT a trial weight at" : " and at",
                            told.plane_of(piece).name, piece.mass_kg * 1e3, clock_of(piece, told));
  said.details.push_back(place_of(piece, told));
  said.details.push_back(
      fmt::format("it {}; {}", trial_rule_name(planned.weight.rule), trial_place_words(planned.place)));
  if (!planned.kind.empty())
    said.details.push_back("of the stock: " + planned.kind + "; 'job fit --as-asked' wants the same --stock");
}

StepWords words_without_plan(NoTrial why, const Plane& at) {
  const std::string most = at.at_most_kg ? fmt::format("{:.1f} g", *at.at_most_kg * 1e3) : "";
  StepWords said;
  switch (why) {
    case NoTrial::plane_full:
      said.words = fmt::format("TAKE the weights off plane {}, then fit one trial weight there", at.name);
      if (!most.empty()) said.details.push_back("the plane may carry " + most + " in all");
      break;
    case NoTrial::nothing_in_stock:
      said.words = fmt::format("FIND a trial weight for plane {}: nothing of the stock may be fitted there", at.name);
      break;
    case NoTrial::nothing_known:
      said.words = fmt::format("FIT a trial weight at plane {}, at the mark", at.name);
      said.details.emplace_back(
          "weigh it first; it should change the reading by about a third, and not pull with more than a tenth of what "
          "its support carries");
      if (!most.empty()) said.details.push_back("no more than " + most);
  }
  return said;
}

/// What the weights are expected to bring, and why not the other way.
void add_choice(const NextStep& step, Details& details) {
  if (!step.choice) return;
  const Prospect& asked = step.choice->asked;
  const Prospect& other = step.choice->other;
  const bool trial = step.kind == StepKind::fit_trial;
  std::string chances = fmt::format("chance that the vibration falls: {:.0f} %", 100.0 * asked.falls);
  if (!trial) chances += fmt::format("; that the shaft is within limit with this spin: {:.0f} %", 100.0 * asked.within);
  details.push_back(chances);
  if (std::isfinite(asked.spins) && std::isfinite(other.spins))
    details.push_back(fmt::format("spins still to come: about {:.1f} this way, about {:.1f} with a {} first",
                                  asked.spins, other.spins, trial ? "correction" : "trial weight"));
}

StepWords words_of_trial(const Told& told) {
  StepWords said;
  for (const AskedTrial& trial : told.step.trials) {
    if (const auto* planned = std::get_if<PlannedTrial>(&trial.plan))
      add_planned(*planned, told, said);
    else
      said = words_without_plan(std::get<NoTrial>(trial.plan), told.plane(trial.plane));
  }
  said.details.emplace_back(
      "then say what was fitted with 'job fit', and spin; earlier trial weights may stay on or come off, as long as "
      "'job fit' says so");
  add_choice(told.step, said.details);
  return said;
}

std::string expected_words(double over_limit, const Told& told) {
  return fmt::format("expected to leave about {:.0f} % of the limit{}", 100.0 * over_limit,
                     told.analysis.used_prior ? ", from what earlier shafts taught" : "");
}

/// Trial weights usually come off before the correction is welded, so that choice is told first.
StepWords words_of_bare(const Instead& instead, const Told& told) {
  std::string trials;
  for (int number : instead.take_off) {
    const FittedWeight& piece = told.state.on_shaft[static_cast<std::size_t>(number - 1)];
    trials += fmt::format("{}{}, {}", trials.empty() ? "piece " : "; piece ", number, short_words({piece}, told));
  }
  StepWords said{fmt::format("TAKE the trial weights off and FIT {}", short_words(instead.pieces, told)),
                 {"take off " + trials}};
  add_places(instead.pieces, told, said.details);
  said.details.push_back(expected_words(instead.expected_over_limit, told) + "; if so, 'job fit --bare'");
  return said;
}

StepWords words_of_correction(const Told& told) {
  const NextStep& step = told.step;
  StepWords said =
      step.instead ? words_of_bare(*step.instead, told) : StepWords{"FIT " + short_words(step.pieces, told), {}};
  if (step.pieces.empty()) {
    said.details.emplace_back("with the trial weights on, the planes may carry nothing more that makes it better");
    return said;
  }
  if (step.instead) said.details.emplace_back("OR leave the trial weights on, and fit on top of them:");
  add_places(step.pieces, told, said.details);
  const std::string expected = expected_words(*step.expected_over_limit, told);
  said.details.push_back(step.instead ? expected + "; if so, 'job fit --as-asked'"
                                      : "on top of what is on the shaft; " + expected);
  add_choice(step, said.details);
  return said;
}

/// The reading moved and nothing was stated.
StepWords words_of_question(const Told& told) {
  const double percent = 100.0 * told.analysis.moved->share;
  StepWords said{
      told.step.weight_asked
          ? fmt::format("SAY: a weight was asked for and none stated, but the reading moved by {:.0f} %: is it on?",
                        percent)
          : fmt::format("SAY what is on: nothing was stated, but the reading moved by {:.0f} %", percent),
      {}};
  add_places(told.step.pieces, told, said.details);
  if (!told.step.pieces.empty())
    said.details.emplace_back("it was on in the last spin as asked: 'job fit --was-on --as-asked'");
  said.details.emplace_back("another weight was on: 'job fit --was-on \"A 12.5 g @ 138.4 deg\"'");
  said.details.emplace_back("nothing was fitted or came off: 'job fit --unchanged', and look why the reading moved");
  return said;
}

double worst_over_limit(const Told& told) {
  return finding_of(*told.analysis.solution).worst_ratio();
}

StepWords words_of_close(const Told& told) {
  return {"CLOSE the job: the shaft is within limit",
          {fmt::format("the final residual is {:.0f} % of the limit; 'job close' writes it into the log",
                       100.0 * worst_over_limit(told))}};
}

Details why_it_ends(const Told& told) {
  const End& end = *told.step.end;
  const auto doubt = [&]() -> const Warning& { return told.step.doubts.front().warning; };
  switch (end.reason) {
    case EndReason::stays_in_doubt: return {doubt().message, doubt().what_to_do()};
    case EndReason::still_in_doubt:
      return {fmt::format("after {} spins with these weights still: {}", end.spins_alike, doubt().message),
              doubt().what_to_do()};
    case EndReason::too_unsure:
      return {fmt::format("after {} spins alike the residual is {:.0f} % of the limit and its ± {:.0f} %",
                          end.spins_alike, 100.0 * worst_over_limit(told), 100.0 * end.unsure_over_limit),
              "'solve --budget' says what the ± comes from; heavier trial weights in a new job make it smaller"};
    case EndReason::too_many:
      return {
          fmt::format("{} corrections did not bring it within limit", corrections_at_most),
          "look for what changes from spin to spin: bolts, joints, bearings, the mark; and whether every weight was "
          "stated as it was fitted"};
    case EndReason::no_room:
      return {"no weight that the planes may still carry makes it better", "use other planes, or allow more (at_most)"};
  }
  return {};
}

StepWords words_of_end(const Told& told) {
  const Verdict verdict = told.analysis.solution->judgement.verdict;
  StepWords said{verdict == Verdict::outside ? "CLOSE the job: the shaft is not within limit"
                                             : "CLOSE the job: it cannot be said that it is within limit",
                 why_it_ends(told)};
  said.details.push_back(fmt::format("'job close' writes it into the log as {}", verdict_name(verdict)));
  return said;
}

StepWords words_of_mending(const Told& told) {
  if (told.step.doubts.empty())
    return {"CHECK the spins: they give no answer", {told.analysis.why, told.analysis.remedy}};
  StepWords said{"CHECK before anything else: the readings are in doubt", {}};
  for (const auto& [doubt, entries] : told.step.doubts) {
    said.details.push_back(doubt.spins.empty()
                               ? doubt.message
                               : fmt::format("spin '{}': {}", fmt::join(doubt.spins, "', '"), doubt.message));
    said.details.push_back("to mend it: " + doubt.what_to_do());
    if (!entries.empty())
      said.details.push_back(fmt::format("then take entry {} back, put the weights of that spin on, and spin again",
                                         fmt::join(entries, ", ")));
  }
  return said;
}

}  // namespace

StepWords step_words(const NextStep& step, const KnownJob& known) {
  const Told told{step, known.job, known.analysis, state_of(known.job.events)};
  switch (step.kind) {
    case StepKind::spin_as_found:
    case StepKind::spin: return words_of_spin(told);
    case StepKind::spin_again: return words_of_spin_again(told);
    case StepKind::fit_trial: return words_of_trial(told);
    case StepKind::fit_correction: return words_of_correction(told);
    case StepKind::say_fitted: return words_of_question(told);
    case StepKind::close: return words_of_close(told);
    case StepKind::close_not_within: return words_of_end(told);
    case StepKind::mend: return words_of_mending(told);
    case StepKind::nothing: break;
  }
  return {"NOTHING: the job is closed", {}};
}

}  // namespace counterspot
