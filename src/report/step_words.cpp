#include "report/step_words.hpp"

#include <fmt/format.h>

#include <fmt/ranges.h>
#include <cmath>

#include "counterspot/drawing/instruction_words.hpp"
#include "report/text.hpp"

namespace counterspot {

namespace {

using Details = std::vector<std::string>;

/// What the words are about, and the language they are in.
struct Told {
  const NextStep& step;
  const Job& job;
  const Analysis& analysis;
  const JobState state;
  const Words& words;
  const InstructionWords& texts;

  const Plane& plane(std::size_t index) const { return job.shaft().planes[index]; }
  const Plane& plane_of(const FittedWeight& piece) const { return plane(static_cast<std::size_t>(piece.plane)); }
  std::string number(double value, int decimals) const { return number_text(value, decimals, words); }
  std::string grams(double mass_kg) const { return number(mass_kg * 1e3, 1); }
  std::string percent(double part) const { return number(100.0 * part, 0); }
};

std::string clock_of(const FittedWeight& piece, const Told& told) {
  return clock_position(piece.angle_rad, told.job.rig().rotation).text();
}

std::string place_of(const FittedWeight& piece, const Told& told) {
  const Shaft& shaft = told.job.shaft();
  std::string words = say(told.texts.place, told.plane_of(piece).name, told.grams(piece.mass_kg), clock_of(piece, told),
                          told.job.rig().viewing_end, told.number(piece.radius_m * 1e3, 1));
  if (shaft.tube) {
    const ArcLength arc = arc_length(piece.angle_rad, shaft.tube->outside_diameter_m);
    const bool with = arc.direction == ArcDirection::with_rotation;
    words += say(told.texts.by_tape, told.number(arc.length_m * 1e3, 0),
                 with ? told.words.with_rotation : told.words.against_rotation);
  }
  if (!told.state.spins.empty() && told.state.spins.back().spun.speed_rad_s) {
    const double speed = *told.state.spins.back().spun.speed_rad_s;
    words += say(told.texts.pull, told.number(pull_N(piece.mass_kg, piece.radius_m, speed), 0));
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
    words += (words.empty() ? "" : ", ") +
             say(told.texts.short_piece, told.grams(piece.mass_kg), clock_of(piece, told), told.plane_of(piece).name);
  }
  return words.empty() ? told.texts.nothing : words;
}

StepWords words_of_spin(const Told& told) {
  const InstructionWords& words = told.texts;
  const auto& speed = told.step.speed_rad_s;
  const std::string at_speed = speed ? say(words.at_speed, say(words.speed, told.number(rpm(*speed), 0))) : "";
  if (told.step.kind == StepKind::spin_as_found)
    return {words.spin_as_found + at_speed, {speed ? words.bends : words.record_as_found}};
  const std::size_t on = told.state.on_shaft.size();
  const std::string pieces = on == 0 ? words.none_on : on == 1 ? words.one_on : say(words.several_on, on);
  return {words.spin_on + at_speed, {say(words.record_as_before, pieces)}};
}

/// What a doubt means, and what to do about it.
Details details_of(const Warning& doubt, const Told& told) {
  return {meaning_text(doubt, told.words), remedy_text(warning_code(doubt.code), doubt.what_to_do(), told.words)};
}

StepWords words_of_spin_again(const Told& told) {
  if (told.step.doubts.empty()) return {told.texts.spin_longer, {told.texts.nothing_to_fit}};
  return {told.texts.spins_contradict, details_of(told.step.doubts.front().warning, told)};
}

void add_planned(const PlannedTrial& planned, const Told& told, StepWords& said) {
  const InstructionWords& words = told.texts;
  const FittedWeight& piece = planned.piece;
  said.words += say(said.words.empty() ? words.fit_trial : words.and_fit_trial, told.plane_of(piece).name,
                    told.grams(piece.mass_kg), clock_of(piece, told));
  said.details.push_back(place_of(piece, told));
  said.details.push_back(say(words.rule_and_place, words.of_rule(planned.weight.rule), words.of_place(planned.place)));
  if (!planned.kind.empty()) said.details.push_back(say(words.of_stock, planned.kind));
}

StepWords words_without_plan(NoTrial why, const Plane& at, const Told& told) {
  const InstructionWords& words = told.texts;
  StepWords said;
  switch (why) {
    case NoTrial::plane_full:
      said.words = say(words.take_off_first, at.name);
      if (at.at_most_kg) said.details.push_back(say(words.may_carry, told.grams(*at.at_most_kg)));
      break;
    case NoTrial::nothing_in_stock: said.words = say(words.find_trial, at.name); break;
    case NoTrial::nothing_known:
      said.words = say(words.fit_any_trial, at.name);
      said.details.emplace_back(words.how_heavy);
      if (at.at_most_kg) said.details.push_back(say(words.no_more_than, told.grams(*at.at_most_kg)));
  }
  return said;
}

/// What the weights are expected to bring, and why not the other way.
void add_choice(const Told& told, Details& details) {
  const InstructionWords& words = told.texts;
  if (!told.step.choice) return;
  const Prospect& asked = told.step.choice->asked;
  const Prospect& other = told.step.choice->other;
  const bool trial = told.step.kind == StepKind::fit_trial;
  std::string chances = say(words.chance_falls, told.percent(asked.falls));
  if (!trial) chances += say(words.chance_within, told.percent(asked.within));
  details.push_back(chances);
  if (std::isfinite(asked.spins) && std::isfinite(other.spins))
    details.push_back(say(trial ? words.spins_trial_first : words.spins_correction_first, told.number(asked.spins, 1),
                          told.number(other.spins, 1)));
}

StepWords words_of_trial(const Told& told) {
  StepWords said;
  for (const AskedTrial& trial : told.step.trials) {
    if (const auto* planned = std::get_if<PlannedTrial>(&trial.plan))
      add_planned(*planned, told, said);
    else
      said = words_without_plan(std::get<NoTrial>(trial.plan), told.plane(trial.plane), told);
  }
  said.details.emplace_back(told.texts.then_say);
  add_choice(told, said.details);
  return said;
}

std::string expected_words(double over_limit, const Told& told) {
  return say(told.analysis.used_prior ? told.texts.expected_by_earlier : told.texts.expected, told.percent(over_limit));
}

/// Trial weights usually come off before the correction is welded, so that choice is told first.
StepWords words_of_bare(const Instead& instead, const Told& told) {
  std::string trials;
  for (int number : instead.take_off) {
    const FittedWeight& piece = told.state.on_shaft[static_cast<std::size_t>(number - 1)];
    trials += (trials.empty() ? "" : "; ") + say(told.texts.numbered_piece, number, short_words({piece}, told));
  }
  StepWords said{say(told.texts.off_and_fit, short_words(instead.pieces, told)), {say(told.texts.take_off, trials)}};
  add_places(instead.pieces, told, said.details);
  said.details.push_back(say(told.texts.if_so, expected_words(instead.expected_over_limit, told), "job fit --bare"));
  return said;
}

StepWords words_of_correction(const Told& told) {
  const NextStep& step = told.step;
  StepWords said = step.instead ? words_of_bare(*step.instead, told)
                                : StepWords{say(told.texts.fit, short_words(step.pieces, told)), {}};
  if (step.pieces.empty()) {
    said.details.emplace_back(told.texts.no_more);
    return said;
  }
  if (step.instead) said.details.emplace_back(told.texts.or_leave_on);
  add_places(step.pieces, told, said.details);
  const std::string expected = expected_words(*step.expected_over_limit, told);
  said.details.push_back(step.instead ? say(told.texts.if_so, expected, "job fit --as-asked")
                                      : say(told.texts.on_top, expected));
  add_choice(told, said.details);
  return said;
}

/// The reading moved and nothing was stated.
StepWords words_of_question(const Told& told) {
  const InstructionWords& words = told.texts;
  StepWords said{
      say(told.step.weight_asked ? words.was_it_on : words.what_is_on, told.percent(told.analysis.moved->share)), {}};
  add_places(told.step.pieces, told, said.details);
  if (!told.step.pieces.empty()) said.details.push_back(say(words.on_as_asked, "job fit --was-on --as-asked"));
  said.details.push_back(say(words.on_other, "job fit --was-on \"A 12.5 g @ 138.4 deg\""));
  said.details.push_back(say(words.on_none, "job fit --unchanged"));
  return said;
}

double worst_over_limit(const Told& told) {
  return finding_of(*told.analysis.solution).worst_ratio();
}

StepWords words_of_close(const Told& told) {
  return {told.texts.close, {say(told.texts.final_residual, told.percent(worst_over_limit(told)))}};
}

Details why_it_ends(const Told& told) {
  const InstructionWords& words = told.texts;
  const End& end = *told.step.end;
  const auto doubt = [&] { return details_of(told.step.doubts.front().warning, told); };
  switch (end.reason) {
    case EndReason::stays_in_doubt: return doubt();
    case EndReason::still_in_doubt: return {say(words.still_in_doubt, end.spins_alike, doubt()[0]), doubt()[1]};
    case EndReason::too_unsure:
      return {say(words.too_unsure, end.spins_alike, told.percent(worst_over_limit(told)),
                  told.percent(end.unsure_over_limit)),
              words.what_is_unsure};
    case EndReason::too_many: return {say(words.too_many, corrections_at_most), words.what_changes};
    case EndReason::no_room: return {words.no_room, words.more_room};
  }
  return {};
}

StepWords words_of_end(const Told& told) {
  const Verdict verdict = told.analysis.solution->judgement.verdict;
  StepWords said{verdict == Verdict::outside ? told.texts.close_outside : told.texts.close_unsure, why_it_ends(told)};
  said.details.push_back(say(told.texts.written_as, verdict_text(verdict, told.words)));
  return said;
}

StepWords words_of_mending(const Told& told) {
  const InstructionWords& words = told.texts;
  if (told.step.doubts.empty()) return {words.no_answer, {told.analysis.why, told.analysis.remedy}};
  StepWords said{words.in_doubt_first, {}};
  for (const auto& [doubt, entries] : told.step.doubts) {
    const Details of_doubt = details_of(doubt, told);
    said.details.push_back(doubt.spins.empty() ? of_doubt[0]
                                               : say(words.doubted_spin, fmt::join(doubt.spins, "', '"), of_doubt[0]));
    said.details.push_back(say(words.to_mend, of_doubt[1]));
    if (!entries.empty()) said.details.push_back(say(words.spin_over_again, fmt::join(entries, ", ")));
  }
  return said;
}

}  // namespace

StepWords step_words(const NextStep& step, const KnownJob& known, const Words& words) {
  const Told told{step, known.job, known.analysis, state_of(known.job.events), words, words.instruction()};
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
  return {told.texts.closed_already, {}};
}

}  // namespace counterspot
