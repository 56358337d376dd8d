#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/typed_spin.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/files/shop.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/guide/taken_off.hpp"
#include "counterspot/job/next_step.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/recording/recording.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "files/file_keys.hpp"
#include "report/job_text.hpp"

namespace counterspot::commands {

namespace {

struct JobAsked {
  std::string log;
  std::string job;
  std::string shaft, rig, stock, shafts;
  SpinToRecord to_record;
  SpinAsked spin;
  std::string label, turned, reason, key;
  WorkOrder order;
  std::vector<std::string> pieces;
  std::vector<int> off;
  int entry = 0;
  bool none = false;
  bool only = false;
  bool as_asked = false;
  bool bare = false;
  bool unchanged = false;
  bool was_on = false;
  bool as_typed = false;
  bool json = false;
  const Words* words = &english();
};

/// The job named, or the only open one.
std::string chosen_name(const Log& log, const std::string& name) {
  if (!name.empty()) return name;
  const auto open = log.list({"", "", "open", {}, {}});
  if (open.size() == 1) return open.front().name;
  std::string names;
  for (const JobOverview& line : open) names += (names.empty() ? "" : ", ") + line.name;
  throw Error(Trouble::request, "which_job",
              open.empty() ? "there is no open job" : fmt::format("several jobs are open: {}", names),
              open.empty() ? "open one with 'job open shaft.toml --rig rig.toml'" : "say which with --job");
}

Job chosen_job(const Log& log, const std::string& name) {
  return log.job(chosen_name(log, name));
}

KnownJob known_of(const JobAsked& asked, const Log& log, Job job) {
  KnownJob known = known_job(log, std::move(job));
  if (!asked.stock.empty()) known.stock = read_stock(asked.stock, known.job.shaft());
  return known;
}

void print_next(const JobAsked& asked, const Log& log, Job job) {
  KnownJob known = known_of(asked, log, std::move(job));
  if (auto due = qualification_due(log, known.job.rig(), now_unix_s())) known.analysis.warnings.push_back(*due);
  if (asked.json) {
    print_json(document_of(known));
    return;
  }
  print_warnings(known.analysis.warnings, *asked.words);
  print(instruction_text(known, *asked.words));
}

void open_job(const JobAsked& asked) {
  read_rig(asked.rig);  // for its errors, which name the file as the person did
  const std::string shaft = shaft_file_named(asked.shaft, asked.shafts).string();
  read_shaft(shaft);
  Log log = open_log(asked.log, true);
  const Job job = log.open_job(opening_of(asked.rig, shaft));
  print_next(asked, log, job);
}

void add_spin(const JobAsked& asked) {
  Log log = open_log(asked.log, false);
  const Job job = chosen_job(log, asked.job);
  SpinAsked spin = asked.spin;
  if (spin.recording.empty() && spin.vectors.empty() && !asked.to_record.source.empty())
    spin.recording = recorded_spin(asked.to_record, job);
  Spun spun = spin.spun(job.rig(), job.shaft());
  if (!asked.turned.empty()) spun.turned_rad = parse_quantity(asked.turned, Dimension::angle);
  print_warnings(spun.warnings, *asked.words);
  spun.label = asked.label.empty() ? usual_label(job) : asked.label;
  print_next(asked, log, keep_spin(log, job, std::move(spun), program_name(), now_unix_s()));
}

/// What is on the shaft after this.
std::vector<FittedWeight> pieces_after(const JobAsked& asked, const KnownJob& known) {
  const Rig rig = known.job.rig();
  const Shaft shaft = known.job.shaft();
  const JobState state = state_of(known.job.events);
  std::vector<FittedWeight> pieces = without_numbers(state.on_shaft, asked.off);
  if (asked.none || asked.only) pieces.clear();
  if (asked.bare) {
    const NextStep step = known.next();
    pieces = with_trials_off(state, step);
    pieces.insert(pieces.end(), step.instead->pieces.begin(), step.instead->pieces.end());
  }
  if (asked.as_asked) {
    const NextStep step = known.next();
    if (step.pieces.empty()) {
      throw Error(Trouble::request, "nothing_asked", "the next step of this job is not to fit a weight of known mass",
                  "see 'job next', or say what was fitted");
    }
    pieces.insert(pieces.end(), step.pieces.begin(), step.pieces.end());
  }
  for (const std::string& text : asked.pieces) pieces.push_back(parse_piece(text, rig, shaft));
  return pieces;
}

void add_fit(const JobAsked& asked) {
  const bool chosen = asked.none || asked.as_asked || asked.bare || asked.unchanged;
  if (asked.pieces.empty() && asked.off.empty() && !chosen) {
    throw Error(Trouble::request, "bad_piece", "it is not said what was fitted",
                "write it as in: job fit \"A 12.5 g @ 138.4 deg\"; or use --as-asked, --bare, --off or --none");
  }
  Log log = open_log(asked.log, false);
  const KnownJob known = known_of(asked, log, chosen_job(log, asked.job));
  const StatedFit stated{pieces_after(asked, known), asked.as_typed, asked.was_on};
  const Job job = keep_fit(log, known, stated, program_name(), now_unix_s());
  if (!asked.json) print(stated_text(known.next(), job, *asked.words));
  print_next(asked, log, job);
}

void take_back(const JobAsked& asked) {
  Log log = open_log(asked.log, false);
  const Job job = chosen_job(log, asked.job);
  const TakenBack back{asked.entry, asked.reason};
  const Job after = log.append(job, back, program_name(), now_unix_s());
  if (!asked.json) print(taken_back_text(after, back.number, *asked.words));
  print_next(asked, log, after);
}

void state_order(const JobAsked& asked) {
  Log log = asked.order == WorkOrder{} ? log_to_read(asked.log) : open_log(asked.log, false);
  Job job = chosen_job(log, asked.job);
  if (asked.order != WorkOrder{}) job = log.append(job, Ordered{asked.order}, program_name(), now_unix_s());
  asked.json ? print_json(document_of_order(job)) : print(order_text(job, *asked.words));
}

void show_next(const JobAsked& asked) {
  const Log log = log_to_read(asked.log);
  print_next(asked, log, chosen_job(log, asked.job));
}

void show_job(const JobAsked& asked) {
  const Log log = log_to_read(asked.log);
  const Job job = chosen_job(log, asked.job);
  print(asked.json ? job_to_json_line(job) + "\n" : text_of(job, *asked.words));
}

int close_job(const JobAsked& asked) {
  Log log = open_log(asked.log, false);
  const auto key = asked.key.empty() ? std::nullopt : std::optional(signing_key_in(asked.key));
  Job job = close_job(log, chosen_name(log, asked.job), asked.reason, program_name(), now_unix_s());
  if (key) job = sign_job(log, job, *key, program_name(), now_unix_s());
  const Closed& closed = closing_in(job);
  const bool within = closed.finding && closed.finding->verdict == Verdict::within;
  asked.json ? print_json(document_of_close(job)) : print(closing_text(job, *asked.words));
  return within ? 0 : 1;
}

CLI::App* add(CLI::App& job, const std::string& name, const std::string& words, JobAsked& asked) {
  CLI::App* command = job.add_subcommand(name, words);
  add_log_option(*command, asked.log);
  command->add_flag("--json", asked.json, "One JSON document for programs");
  add_language_option(*command, asked.words);
  if (name == "fit" || name == "next" || name == "spin")
    command->add_option("--stock", asked.stock, "The stock file: a trial weight is of what there is, where it may go");
  if (name != "open") command->add_option("--job", asked.job, "Which job; not needed while only one is open");
  return command;
}

void add_open_and_spin(CLI::App& job, const std::shared_ptr<JobAsked>& asked) {
  CLI::App* open = add(job, "open", "Begin with a shaft", *asked);
  open->add_option("shaft", asked->shaft, "The shaft's file, or its id in the folder --shafts")->required();
  open->add_option("--rig", asked->rig, "The rig's file")->required();
  open->add_option("--shafts", asked->shafts, "A folder of shaft files");
  open->footer("Example:\n  counterspot job open shaft.toml --rig rig.toml");
  open->callback([asked] { open_job(*asked); });

  CLI::App* spin = add(job, "spin", "Measure a spin, keep it, and say what it means", *asked);
  add_spin_options(*spin, asked->spin);
  add_record_options(*spin, asked->to_record);
  spin->add_option("--label", asked->label, "What to call it");
  spin->add_option("--turned", asked->turned,
                   "How far the shaft's mark stands from the adapters' mark, against the rotation: \"180 deg\"");
  spin->footer("Example:\n  counterspot job spin 00-as-found.wav");
  spin->callback([asked] { add_spin(*asked); });
}

void add_fit_and_back(CLI::App& job, const std::shared_ptr<JobAsked>& asked) {
  CLI::App* fit = add(job, "fit", "State what was really fitted, on top of what is on the shaft", *asked);
  CLI::Option* named = fit->add_option("pieces", asked->pieces,
                                       "Weights as \"A 12.5 g @ 138.4 deg\" or \"A 12.5 g @ 4:37\"; negative: removed");
  CLI::Option* as_asked = fit->add_flag(
      "--as-asked", asked->as_asked, "Just what 'job next' asked for, on top of what is on: trial weights stayed on");
  CLI::Option* bare =
      fit->add_flag("--bare", asked->bare, "The trial weights came off, and what 'job next' shows for that was fitted");
  CLI::Option* unchanged = fit->add_flag("--unchanged", asked->unchanged, "Nothing was fitted, and nothing came off");
  fit->add_flag("--was-on", asked->was_on,
                "It was on in the last spin already, which was entered without it: that spin is entered again");
  fit->add_flag("--as-typed", asked->as_typed, "It is so, though it is far from what was asked for");
  CLI::Option* off = fit->add_option("--off", asked->off, "Numbers of weights that came off, as 'job fit' numbers them")
                         ->allow_extra_args(false);
  CLI::Option* only = fit->add_flag("--only", asked->only, "The weights named are all that is on");
  CLI::Option* none = fit->add_flag("--none", asked->none, "Everything came off");
  for (CLI::Option* other : {named, as_asked, off, only, none}) bare->excludes(other);
  for (CLI::Option* other : {named, as_asked, bare, off, only, none}) unchanged->excludes(other);
  fit->footer("Example:\n  counterspot job fit \"A 12.5 g @ 138.4 deg\" \"B 8 g @ 9:02\"");
  fit->callback([asked] { add_fit(*asked); });

  CLI::App* back = add(job, "back", "Take an entry back; it stays in the log and no longer counts", *asked);
  back->add_option("entry", asked->entry, "Its number in 'job show'")->required();
  back->add_option("--reason", asked->reason, "Why")->required();
  back->footer("Example:\n  counterspot job back 3 --reason \"that was the recording of PS-1043\"");
  back->callback([asked] { take_back(*asked); });
}

/// "balanced_by" as an option: "--balanced-by".
std::string option_of(std::string key) {
  std::replace(key.begin(), key.end(), '_', '-');
  return "--" + key;
}

void add_order(CLI::App& job, const std::shared_ptr<JobAsked>& asked) {
  CLI::App* order = add(job, "order", "State for whom and by whom, or put it right, also after the close", *asked);
  for (const auto& [key, value] : work_order_fields())
    order->add_option(option_of(key), asked->order.*value,
                      std::string(find_key(FileKind::shaft, "order", key)->effect));
  order->footer(
      "Example:\n  counterspot job order --job PS-1042/1 --customer \"Marrow Creek\" --serial 0417-22\n\n"
      "Each time is an entry of its own with its date; the sheet shows what was stated last.");
  order->callback([asked] { state_order(*asked); });
}

}  // namespace

void add_job(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<JobAsked>();
  CLI::App* job = program.add_subcommand("job", "The guided way: one shaft from as found to within limit");
  job->require_subcommand(1);
  job->footer("Example:\n  counterspot job next\n\n" + cautions());
  add_open_and_spin(*job, asked);
  add_fit_and_back(*job, asked);
  add_order(*job, asked);

  CLI::App* next = add(*job, "next", "What to do next", *asked);
  next->footer("Example:\n  counterspot job next");
  next->callback([asked] { show_next(*asked); });

  CLI::App* show = add(*job, "show", "Everything that happened in a job", *asked);
  show->footer("Example:\n  counterspot job show --job PS-1042/1");
  show->callback([asked] { show_job(*asked); });

  CLI::App* close = add(*job, "close", "End the job with the residual of its last spin", *asked);
  close->add_option("--reason", asked->reason, "Needed if there is no spin after the last change of weights");
  close->add_option("--key", asked->key, "Sign it with this key, which 'log key' made");
  close->footer("Example:\n  counterspot job close\nExit code 0: within limit; 1: not, or it cannot be said.");
  close->callback([asked, &exit_code] { exit_code = close_job(*asked); });
}

}  // namespace counterspot::commands
