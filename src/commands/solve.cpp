#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <memory>

#include "commands/command.hpp"
#include "commands/documents.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/results.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/picture_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/job/analysis.hpp"
#include "counterspot/learning/learning.hpp"
#include "counterspot/solve/adapters.hpp"
#include "counterspot/solve/no_phase.hpp"
#include "counterspot/solve/solution.hpp"
#include "counterspot/tolerance/held_text.hpp"
#include "report/job_text.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct SolveAsked {
  std::string spins;
  double speed_tolerance_percent = 1.0;
  std::string least = "squares";
  std::string at_most;
  std::string log;
  bool keep_adapters = false;
  bool no_phase = false;
  bool budget = false;
  bool plain = false;
  bool json = false;
  PictureAsked picture;
  ResultsAsked out;
  StatedRecording stated;
  const Words* words = &english();
};

/// The texts of one solution, in one language.
struct SolveText {
  const Words& words;
  const CommandWords& texts = words.commands();

  std::string number(double value, int decimals) const { return number_text(value, decimals, words); }
  std::string digits(double value, int count) const {
    return with_decimal_sign(fmt::format("{:.{}g}", value, count), words);
  }
  std::string g_mm(double unbalance_kg_m) const { return number(in_g_mm(unbalance_kg_m), 0); }
  std::string next(const std::string& what) const { return say(texts.next, what); }
};

std::string repeats_text(const Solution& solution, const SolveText& in) {
  std::string text;
  for (std::size_t s = 0; s < solution.repeats.size(); ++s) {
    const RepeatScatter& repeat = solution.repeats[s];
    const double unit = si_per_display_unit(solution.motions[s]);
    text += say(in.texts.repeats, repeat.sensor, repeat.spins, in.digits(repeat.scatter / unit, 2),
                display_unit(solution.motions[s]), in.digits(repeat.noise / unit, 2),
                repeat.added > 0.0 ? say(in.texts.added_to_each, in.digits(repeat.added / unit, 2))
                                   : std::string(in.texts.nothing_to_add));
  }
  return text.empty() ? text : text + "\n";
}

/// "38.4 ± 1.4 g·mm", without the ± where no uncertainty is known.
std::string with_uncertainty(const Solution& solution, double value_kg_m, double u_kg_m, const SolveText& in) {
  const double expanded_kg_m = solution.influence.uncertainty_known ? coverage_factor * u_kg_m : 0.0;
  return with_decimal_sign(unbalance_text(value_kg_m, expanded_kg_m, UnitSystem::metric), in.words);
}

/// "38.4 ± 1.4 g·mm   limit 348.5 g·mm".
std::string with_limit(const Solution& solution, Held held, const SolveText& in) {
  if (!solution.influence.uncertainty_known) held.u_residual_kg_m = 0.0;
  const HeldText shown = held_text(held, UnitSystem::metric);
  return with_decimal_sign(say(in.texts.with_limit, shown.residual, shown.limit), in.words);
}

std::string weight_line(const FitInstruction& fit, const Rig& rig, const SolveText& in) {
  const std::string line = say(in.texts.fit_weight, in.number(fit.mass_kg * 1e3, 1), fit.clock.text(),
                               say(in.texts.mark_on_clock, rig.viewing_end), in.number(fit.radius_m * 1e3, 1));
  const bool with = fit.arc && fit.arc->direction == ArcDirection::with_rotation;
  const std::string tape = fit.arc ? say(in.texts.by_tape, in.number(fit.arc->length_m * 1e3, 0),
                                         with ? in.words.with_rotation : in.words.against_rotation)
                                   : "";
  return line + "        " + tape + say(in.texts.shaft_angle, in.number(degrees(fit.angle_rad), 1)) + "\n";
}

/// The bare one is shown where trial weights are on: they usually come off.
std::string text_of(const PlaneSolution& plane, const Solution& solution, const Rig& rig, bool fit,
                    const SolveText& in) {
  std::string text = put_in(in.words.plane, plane.name) + "\n";
  if (fit) text += weight_line(plane.correction_bare, rig, in);
  const double residual_kg_m = std::abs(plane.residual_kg_m);
  text += in.texts.now;
  text += plane.limit_kg_m ? with_limit(solution, {{}, residual_kg_m, plane.u_residual_kg_m, *plane.limit_kg_m}, in)
                           : with_uncertainty(solution, residual_kg_m, plane.u_residual_kg_m, in);
  if (fit) text += say(in.texts.expected, in.g_mm(plane.predicted_bare_kg_m));
  return text + "\n\n";
}

std::string text_of(const Judgement& judgement, const Solution& solution, const SolveText& in) {
  std::string text;
  for (const Held& held : judgement.held) {
    if (held.place.kind == HeldPlace::Kind::plane) continue;
    text += say(in.texts.at_support, held_place_text(held.place, in.words), with_limit(solution, held, in));
  }
  std::string_view grade = solution.limits.grade;
  return text + say(in.texts.verdict, verdict_text(judgement.verdict, in.words)) +
         (grade.empty() ? "" : fmt::format("  ({})", grade)) + "\n";
}

std::string next_step(const Judgement& judgement, bool two_choices, const SolveText& in) {
  const CommandWords& texts = in.texts;
  if (judgement.verdict == Verdict::within) return in.next(texts.nothing_to_fit);
  const char* what = two_choices ? texts.one_of_two : texts.what_is_shown;
  std::string next = say(judgement.verdict == Verdict::unsure ? texts.spin_longer_or_fit : texts.fit_and_spin, what);
  if (!judgement.held_back.empty()) {
    const Warning& first = judgement.held_back.front();
    next = say(texts.first_mend, remedy_text(warning_code(first.code), first.what_to_do(), in.words));
  }
  return in.next(next) + "\n" + cautions(in.words);
}

std::string words_of(const std::vector<FittedWeight>& pieces, const Shaft& shaft, const SolveText& in) {
  std::string words;
  for (const FittedWeight& piece : pieces) {
    words += (words.empty() ? "" : ", ") + say(in.texts.piece_on, in.number(piece.mass_kg * 1e3, 1),
                                               in.number(degrees(piece.angle_rad), 0),
                                               shaft.planes[static_cast<std::size_t>(piece.plane)].name);
  }
  return words;
}

/// What is on the shaft when the weights shown first are fitted: a trial weight left on meanwhile would make them
/// wrong.
std::string carried_text(const Solution& solution, const SpinSet& set, const SolveText& in) {
  const std::vector<FittedWeight>& trials = solution.trial_weights;
  const std::string staying = words_of(pieces_without(set.spins.back().fitted, trials), set.shaft, in);
  const std::string base = staying.empty() ? std::string(in.texts.as_found) : say(in.texts.on_what_stays, staying);
  if (trials.empty()) return say(in.texts.to_be_fitted, base);
  return say(in.texts.trials_off_first, words_of(trials, set.shaft, in), base);
}

/// The other of the two choices.
std::string left_on_text(const Solution& solution, const SolveText& in) {
  if (solution.trial_weights.empty()) return "";
  std::string text = in.texts.trials_left_on;
  for (const PlaneSolution& plane : solution.planes) {
    const FitInstruction& fit = plane.correction;
    text += say(in.texts.weight_left_on, plane.name, in.number(fit.mass_kg * 1e3, 1), fit.clock.text(),
                say(in.texts.shaft_angle, in.number(degrees(fit.angle_rad), 1)),
                say(in.texts.expected, in.g_mm(plane.predicted_residual_kg_m)));
  }
  return text + "\n";
}

std::string adapters_text(const Solution& solution, const SpinSet& set, const SolveText& in) {
  const auto& adapters = solution.influence.adapters;
  if (!adapters) return "";
  std::string text = in.texts.adapters;
  for (std::size_t p = 0; p < adapters->unbalance_kg_m.size(); ++p) {
    const Phasor& share = adapters->unbalance_kg_m[p];
    const auto at = static_cast<Eigen::Index>(2 * p);
    const double u_kg_m = u_of_magnitude(share, adapters->covariance.block<2, 2>(at, at));
    text += say(in.texts.adapter_plane, set.shaft.planes[p].name,
                with_uncertainty(solution, std::abs(share), u_kg_m, in), in.number(direction_deg(share), 0));
  }
  return text + "\n";
}

/// What the residual at each place held is unsure by, source by source.
std::string budget_text(const Solution& solution, const SpinSet& set, const SolveText& in) {
  if (!solution.influence.uncertainty_known) return in.texts.no_budget;
  std::string text = in.texts.budget;
  const BudgetTable table = budget_table(solution, set.shaft);
  const auto column = [&](double u_kg_m) { return fmt::format("{:>11}", in.digits(in_g_mm(u_kg_m), 3)); };
  text += fmt::format("  {:<32}", "");
  for (const std::string& place : table.places)
    text += fmt::format("{:>11}", held_place_text(place_of(place), in.words));
  for (const BudgetRow& row : table.rows) {
    text += fmt::format("\n  {:<32}", in.words.picture().of_source(row.source));
    for (double u_kg_m : row.u_kg_m) text += column(u_kg_m);
  }
  text += fmt::format("\n  {:<32}", in.texts.combined);
  for (const Held& held : solution.judgement.held) text += column(held.u_residual_kg_m);
  return text + "\n  " + in.texts.budget_rule + "\n\n";
}

std::string text_of(const Solution& solution, const SpinSet& set, const std::string& taught, bool budget,
                    const SolveText& in) {
  const std::string speed =
      solution.speed_rad_s ? say(in.texts.at_speed, in.number(rpm(*solution.speed_rad_s), 0)) : "";
  std::string text = say(in.texts.shaft_head, set.shaft.id, set.rig.name, speed, set.spins.size()) +
                     (taught.empty() ? "" : ", " + taught) + "\n\n";
  text += held_back_text(reasons_of(solution.judgement.held_back), in.words);
  const bool fit = solution.judgement.verdict != Verdict::within;
  if (fit) text += carried_text(solution, set, in);
  for (const PlaneSolution& plane : solution.planes) text += text_of(plane, solution, set.rig, fit, in);
  if (fit) text += left_on_text(solution, in);
  text += adapters_text(solution, set, in);
  if (budget) text += budget_text(solution, set, in);
  return text + repeats_text(solution, in) + text_of(solution.judgement, solution, in) +
         next_step(solution.judgement, !solution.trial_weights.empty(), in);
}

/// What the log knows of the rig, what its jobs taught, and whether its qualification is due.
struct FromLog {
  RigKnowledge rig;
  std::optional<FamilyPrior> prior;
  std::optional<Warning> due;
};

FromLog from_log(const SolveAsked& asked, const SpinSet& set, const MeasuredSpins& spins) {
  if (asked.log.empty()) return {};
  const Log log = asked.keep_adapters ? open_log(asked.log, true) : log_to_read(asked.log);
  constexpr int jobs_to_look_at = 60;
  FromLog known{knowledge_of_rig(log, set.rig.name), prior_from(log, set.rig, set.shaft, spins),
                qualification_due(log, set.rig, now_unix_s())};
  const int planes = static_cast<int>(set.shaft.planes.size());
  learn_from(spins_of(log.jobs_to_learn_from(set.rig.name, planes, jobs_to_look_at)), set.rig, "", known.rig);
  return known;
}

void keep_adapters(const SolveAsked& asked, const SpinSet& set, const Solution& solution) {
  if (!solution.influence.adapters) {
    throw Error(Trouble::request, "not_turned", "the spins do not turn the shaft against its adapters",
                "spin with the shaft turned by 180 deg, and write turned = \"180 deg\" at that spin");
  }
  open_log(asked.log, true)
      .keep({set.rig.name, "adapters", now_unix_s(), program_name(),
             text_of(adapters_at_supports(*solution.influence.adapters, set.shaft))});
}

SolveOptions options_of(const SolveAsked& asked, const RigKnowledge& rig) {
  SolveOptions options;
  options.rig = rig;
  options.influence.least = asked.least == "worst" ? Least::worst : Least::squares;
  options.speed_tolerance = asked.speed_tolerance_percent / 100.0;
  options.tracking.fit_disturbances = !asked.plain;
  return options;
}

std::string text_of(const AmplitudeAnswer& answer, const AmplitudeSet& set, bool something_on, const SolveText& in) {
  const auto weight = [&](const FitInstruction& fit) {
    return say(in.texts.weight_at, in.number(fit.mass_kg * 1e3, 1), fit.clock.text(), set.rig.viewing_end,
               in.number(degrees(fit.angle_rad), 0));
  };
  std::string text;
  for (std::size_t p = 0; p < answer.corrections.size(); ++p) {
    text += say(in.texts.plane_now, set.shaft.planes[p].name, in.g_mm(std::abs(answer.residual_kg_m[p])),
                weight(answer.corrections_bare[p]));
    if (something_on) text += say(in.texts.or_on_top, weight(answer.corrections[p]));
  }
  return text + "\n";
}

std::string text_of(const AmplitudeSolution& solution, const AmplitudeSet& set, const SolveText& in) {
  const CommandWords& texts = in.texts;
  std::string text = say(texts.without_phase, set.shaft.id, set.rig.name, set.spins.size()) +
                     held_back_text(reasons_of(solution.held_back), in.words);
  const std::size_t count = solution.answers.size();
  for (std::size_t k = 0; k < set.spins.size(); ++k) {
    if (set.spins[k].recording.empty()) continue;
    text += say(texts.spin_speed, set.spins[k].reading.label,
                say(texts.at_speed, in.number(rpm(*solution.speeds_rad_s[k]), 0)),
                set.rig.tach.speed_channel ? texts.by_speed_signal
                : set.spins[k].speed_rad_s ? ""
                                           : texts.by_spectrum);
  }
  const std::string on = words_of(set.spins.back().reading.fitted, set.shaft, in);
  if (!on.empty()) text += say(texts.all_off_or_on, on);
  if (count > 1) text += say(texts.answers, count);
  for (const AmplitudeAnswer& answer : solution.answers) text += text_of(answer, set, !on.empty(), in);
  text += say(texts.verdict, verdict_text(solution.verdict, in.words)) + "\n";
  if (solution.verdict == Verdict::within) return text + in.next(texts.nothing_to_fit);
  const std::string next = count > 1 ? std::string(texts.one_more_trial)
                                     : say(texts.fit_and_spin, on.empty() ? texts.this_one : texts.one_of_two);
  return text + in.next(next) + "\n" + cautions(in.words);
}

/// With the file that it is of in front.
Json named(const std::string& file, const Json& found) {
  Json document = {{"file", file}};
  document.update(found);
  return document;
}

int run_without_phase(const SolveAsked& asked) {
  AmplitudeSet set = read_amplitude_spins(asked.spins);
  set.rig = with_stated(std::move(set.rig), asked.stated);
  std::vector<std::filesystem::path> read{asked.spins};
  for (const AmplitudeSpin& spin : set.spins) read.push_back(spin.recording);
  admit_results(asked.out, asked.picture.replace, read);
  AmplitudeSolution solution = solve_without_phase(set, asked.speed_tolerance_percent / 100.0);
  solution.warnings.insert(solution.warnings.begin(), set.warnings.begin(), set.warnings.end());
  if (!asked.json) print_warnings(solution.warnings, *asked.words);
  const Json document = document_of(solution, set);
  write_results(named(asked.spins, document), asked.out, asked.picture.replace, read);
  asked.json ? print_json(document) : print(text_of(solution, set, SolveText{*asked.words}));
  return solution.verdict == Verdict::within ? 0 : 1;
}

SpinSet spins_asked_for(const SolveAsked& asked) {
  SpinSet set = read_spins(asked.spins);
  set.rig = with_stated(std::move(set.rig), asked.stated);
  if (asked.at_most.empty()) return set;
  for (Plane& plane : set.shaft.planes) plane.at_most_kg = parse_quantity(asked.at_most, Dimension::mass);
  return set;
}

std::vector<std::filesystem::path> files_read(const SolveAsked& asked, const SpinSet& set) {
  auto read = files_of_spins(asked.spins, set);
  if (!asked.log.empty()) std::ranges::copy(files_of_log(asked.log), std::back_inserter(read));
  return read;
}

/// With `--budget` also what the residual is unsure by.
Picture picture_asked(const SolveAsked& asked, const SpinSet& set, const Solution& solution) {
  const Words& words = *asked.picture.words;
  const BudgetTable budget = budget_table(solution, set.shaft);
  return solution_picture(set.rig, set.shaft, solution, set.spins.back().fitted, words,
                          asked.budget ? &budget : nullptr);
}

std::vector<std::string> labels_of(const SpinSet& set) {
  std::vector<std::string> labels;
  for (const SpinEntry& spin : set.spins) labels.push_back(spin.label);
  return labels;
}

int run_solve(const SolveAsked& asked) {
  if (asked.no_phase) return run_without_phase(asked);
  const SpinSet set = spins_asked_for(asked);
  const auto read = files_read(asked, set);
  admit_results(asked.out, asked.picture.replace, read);
  const MeasuredSpins spins = measured(set, options_of(asked, {}));
  const FromLog known = from_log(asked, set, spins);
  TaughtSolution taught = solve_taught(set.rig, set.shaft, spins, known.prior, options_of(asked, known.rig));
  Solution& solution = taught.solution;
  if (known.due) solution.warnings.push_back(*known.due);
  if (asked.keep_adapters) keep_adapters(asked, set, solution);
  if (!asked.json) print_warnings(solution.warnings, *asked.words, labels_of(set));
  if (asked.picture)
    write_picture(picture_asked(asked, set, solution), picture_of(set.rig, set.shaft, solution), asked.picture, read);
  Json document = document_of(solution, set);
  if (known.prior) document["earlier_shafts"] = known.prior->shafts;
  if (known.prior) document["used_earlier_shafts"] = taught.used_prior;
  if (known.prior) document["used_what_rig_taught"] = taught.rig_taught_by > 0;
  write_results(named(asked.spins, document), asked.out, asked.picture.replace, read);
  asked.json ? print_json(document)
             : print(text_of(solution, set, taught_text(finding_of(taught), *asked.words), asked.budget,
                             SolveText{*asked.words}));
  return solution.judgement.verdict == Verdict::within ? 0 : 1;
}

}  // namespace

Json solve_document(const std::string& file, const StatedRecording& stated) {
  SpinSet set = read_spins(file);
  set.rig = with_stated(std::move(set.rig), stated);
  return named(file, document_of(solve(set), set));
}

void add_solve(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<SolveAsked>();
  CLI::App* command =
      program.add_subcommand("solve", "From a set of spins to a correction for each plane and a verdict");
  command->add_option("spins", asked->spins, "The spin file: rig, shaft, and every spin with what was fitted")
      ->required();
  command
      ->add_option(
          "--speed-tolerance", asked->speed_tolerance_percent,
          "Largest spread of spins at one speed, 0 to 10 percent; 1 if not given. Several speeds, each with its "
          "own trial spins, are solved together: for shafts that bend")
      ->check(CLI::Range(0.0, 10.0))
      ->type_name("PERCENT");
  command
      ->add_option("--least", asked->least,
                   "What is made least over all sensors and speeds: the sum of squares, or the worst")
      ->check(CLI::IsMember({"squares", "worst"}))
      ->capture_default_str();
  command->add_option("--at-most", asked->at_most,
                      "The heaviest weight to fit at any plane, \"40 g\"; or at_most under [[plane]] of the shaft");
  command->add_option("--log", asked->log,
                      "A quality log: what it knows of the rig has a part in the verdict, and what earlier shafts "
                      "taught in the correction; its adapters are taken away "
                      "if every spin says how the shaft stands to them (turned = \"0 deg\")");
  command
      ->add_flag("--keep-adapters", asked->keep_adapters,
                 "Keep the adapters' share, found from spins with the shaft turned (turned = \"180 deg\"), in the log")
      ->needs("--log");
  command->add_flag("--no-phase", asked->no_phase,
                    "The tach is dead: the spins give amplitude = { A = \"6.0 mm/s\", … } alone, or recordings whose "
                    "tach is not looked at; three trial positions "
                    "in one plane, in two planes 6 spins of which one carries weights in both");
  command->add_flag("--plain", asked->plain, "Plain least squares: fit no neighbours along, discount no knocks");
  command->add_flag("--budget", asked->budget, "Also what the residual is unsure by, source by source");
  command->add_flag("--json", asked->json, "One JSON document for programs");
  add_language_option(*command, asked->words);
  add_stated_options(*command, asked->stated);
  add_results_option(*command, asked->out);
  add_picture_options(*command, asked->picture,
                      "clock faces, unbalance vectors, residuals spin by spin, with --budget what they are unsure by,");
  command->footer(
      "Examples:\n  counterspot solve spins.toml\n  counterspot solve spins.toml --picture fit.png\nExit code 0: "
      "within limit; 1: not, or it cannot be said.");
  command->callback([asked, &exit_code] { exit_code = run_solve(*asked); });
}

}  // namespace counterspot::commands
