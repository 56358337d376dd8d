#include <cmath>

#include "report/documents.hpp"
#include "report/step_words.hpp"

namespace counterspot {

namespace {

Json instead_json(const std::optional<Instead>& instead, const Shaft& shaft) {
  if (!instead) return nullptr;
  return {{"take_off", instead->take_off},
          {"pieces", json_of(instead->pieces, shaft)},
          {"expected_percent_of_limit", 100.0 * instead->expected_over_limit}};
}

/// Whole percents: chances are drawn, and no better known.
Json prospect_json(const Prospect& prospect) {
  return {{"within_percent", std::round(100.0 * prospect.within)},
          {"falls_percent", std::round(100.0 * prospect.falls)},
          {"expected_spins", std::isfinite(prospect.spins) ? Json(prospect.spins) : Json(nullptr)}};
}

Json choice_json(const std::optional<Choice>& choice) {
  if (!choice) return nullptr;
  return {{"asked", prospect_json(choice->asked)}, {"other", prospect_json(choice->other)}};
}

const char* kind_name(StepKind kind) {
  switch (kind) {
    case StepKind::spin_as_found: return "spin_as_found";
    case StepKind::spin: return "spin";
    case StepKind::spin_again: return "spin_again";
    case StepKind::fit_trial: return "fit_trial";
    case StepKind::fit_correction: return "fit_correction";
    case StepKind::say_fitted: return "say_fitted";
    case StepKind::close: return "close";
    case StepKind::close_not_within: return "close_not_within";
    case StepKind::mend: return "mend";
    case StepKind::nothing: return "nothing";
  }
  return "nothing";
}

/// What a finding holds against the limits; with nothing in it where there is none.
Json finding_json(const std::optional<Finding>& finding) {
  return {{"verdict", finding ? Json(verdict_name(finding->verdict)) : Json(nullptr)},
          {"held_back", finding ? json_of(finding->held_back) : Json::array()},
          {"held", finding ? held_json(finding->held) : Json::array()}};
}

}  // namespace

Json document_of(const KnownJob& known) {
  const NextStep step = known.next();
  const StepWords said = step_words(step, known);
  const Shaft shaft = known.job.shaft();
  const JobState state = state_of(known.job.events);
  Json document = {{"job", known.job.name},
                   {"entries", known.job.events.size()},
                   {"open", state.open},
                   {"step", kind_name(step.kind)},
                   {"words", said.words},
                   {"details", said.details},
                   {"pieces", json_of(step.pieces, shaft)},
                   {"expected_percent_of_limit", scaled_or_null(step.expected_over_limit, 100.0)},
                   {"instead", instead_json(step.instead, shaft)},
                   {"choice", choice_json(step.choice)},
                   {"on_shaft", json_of(state.on_shaft, shaft)}};
  document.update(finding_json(finding_of(known.analysis)));
  document.update({{"earlier_shafts", known.prior ? known.prior->shafts : 0},
                   {"used_earlier_shafts", known.analysis.used_prior},
                   {"used_what_rig_taught", known.analysis.rig_taught_by > 0},
                   {"warnings", json_of(known.analysis.warnings)}});
  return document;
}

Json document_of_close(const Job& job) {
  Json document = {{"job", job.name}, {"closed", true}};
  document.update(finding_json(closing_in(job).finding));
  return document;
}

Json document_of_order(const Job& job) {
  return {{"job", job.name}, {"order", json_of(order_of(job))}};
}

}  // namespace counterspot
