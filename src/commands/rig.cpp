#include <memory>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/rig_check_taps.hpp"
#include "commands/rig_model.hpp"
#include "commands/rig_new.hpp"
#include "commands/rig_text.hpp"
#include "commands/typed_spin.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/drawing/rig_words.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/sheet/rig_report.hpp"

namespace counterspot::commands {

namespace {

struct RigAsked {
  std::string log;
  std::string rig_file, shaft_file;
  std::string rig;  ///< its name
  SpinAsked spin;
  std::string reason, out;
  TapsAsked taps;
  std::vector<std::string> masses;
  bool as_typed = false;
  std::string paper = "a4";
  bool write = false;
  bool replace = false;
  bool json = false;
  const Words* words = &english();
  PictureAsked picture;
};

/// What is in work, or the newest that was.
RigWork chosen_work(const Log& log, const std::string& rig) {
  if (auto newest = newest_rig_work(log, rig)) return *newest;
  throw Error(Trouble::request, "no_rig_work", "the log knows of no work on a rig",
              "begin with 'rig qualify --rig rig.toml --shaft reference.toml'");
}

int exit_code_of(const RigWork& work) {
  const RigWorkState state = state_of(work);
  if (const auto* found = state.result<Qualification>()) return found->passed ? 0 : 1;
  if (const auto* found = state.result<RigCheck>()) return found->within ? 0 : 1;
  if (const auto* found = state.result<Recalibration>()) return found->sound ? 0 : 1;
  return 0;
}

int print_next(const RigWork& work, const RigAsked& asked) {
  asked.json ? print_json(document_of(work)) : print(text_of_next(work, *asked.words));
  return exit_code_of(work);
}

int begin(const RigAsked& asked, RigTask task) {
  if (asked.rig_file.empty() || asked.shaft_file.empty()) {
    throw Error(Trouble::request, "no_rig", "it is not said which rig, and with which reference shaft",
                "give both files: --rig rig.toml --shaft reference.toml");
  }
  // For their errors, which name the files as the person did, before a log is made.
  admit_beginning(task, read_rig(asked.rig_file), read_shaft(asked.shaft_file));
  Log log = open_log(asked.log, true);
  return print_next(open_rig_work(log, task, opening_of(asked.rig_file, asked.shaft_file)), asked);
}

/// Of all test masses on the shaft, if it is not what was asked for.
std::optional<std::vector<FittedWeight>> masses_of(const RigAsked& asked, const RigWork& work) {
  if (asked.masses.empty()) return std::nullopt;
  std::vector<FittedWeight> masses;
  for (const std::string& text : asked.masses) masses.push_back(parse_piece(text, work.rig(), work.shaft()));
  if (!asked.as_typed) refuse_unlike_planned(work, masses);
  return masses;
}

int add_spin(const RigAsked& asked) {
  Log log = open_log(asked.log, false);
  const RigWork work = chosen_work(log, asked.rig);
  if (!state_of(work).open) {
    throw Error(Trouble::request, "rig_work_closed", "no work on a rig is open",
                "begin one: 'rig qualify', 'rig check' or 'rig recalibrate'");
  }
  const auto masses = masses_of(asked, work);
  const Spun spun = asked.spin.spun(work.rig(), work.shaft());
  print_warnings(spun.warnings, *asked.words);
  return print_next(keep_rig_spin(log, work, spun, masses, program_name(), now_unix_s()), asked);
}

int take_back(const RigAsked& asked) {
  Log log = open_log(asked.log, false);
  const RigWork work = chosen_work(log, asked.rig);
  return print_next(take_back_rig_spin(log, work, asked.reason, program_name(), now_unix_s()), asked);
}

int close_work(const RigAsked& asked) {
  Log log = open_log(asked.log, false);
  const RigWork work = chosen_work(log, asked.rig);
  return print_next(append(log, work, {RigClosed{asked.reason, {}}}, program_name(), now_unix_s()), asked);
}

int show_next(const RigAsked& asked) {
  return print_next(chosen_work(log_to_read(asked.log), asked.rig), asked);
}

void draw_checks(const RigAsked& asked, const Log& log, const RigWork& work) {
  PictureOf of = picture_of(work.rig());
  of.shaft = work.shaft().id;
  write_picture(rig_health_picture(finished_checks(log, work.rig().name), work.rig(), work.shaft(), *asked.words), of,
                asked.picture, files_of_log(asked.log));
}

int show(const RigAsked& asked) {
  const Log log = log_to_read(asked.log);
  const Rig rig = asked.rig_file.empty() ? chosen_work(log, asked.rig).rig() : read_rig(asked.rig_file);
  const std::optional<RigWork> work = newest_rig_work(log, rig.name);  // none where only knocks were made
  const RigStanding standing = standing_of(log, rig, now_unix_s());
  if (asked.picture) draw_checks(asked, log, chosen_work(log, rig.name));
  if (asked.json) {
    Json document = document_of(standing, rig);
    document["newest"] = work ? document_of(*work) : Json(nullptr);
    print_json(document);
  } else {
    print(commands::text_of(standing, rig, *asked.words) +
          (work ? "\n" + commands::text_of(*work, *asked.words) : std::string()));
  }
  return 0;
}

int write_sensitivities(const RigAsked& asked) {
  const Rig rig = read_rig_text(write_put_right(log_to_read(asked.log), asked.rig_file), asked.rig_file);
  Json sensitivities = Json::array();
  for (const Sensor& sensor : rig.sensors) sensitivities.push_back(sensor.sensitivity.volts_per_si);
  asked.json ? print_json({{"written", asked.rig_file}, {"sensitivity_V_per_si", sensitivities}})
             : print(asked.rig_file + ": the new sensitivities are written.\nNEXT  'rig check' before any shaft.\n");
  return 0;
}

int write_report(const RigAsked& asked) {
  const Log log = log_to_read(asked.log);
  const auto works = rig_works(log, asked.rig, RigTask::qualification);
  if (works.empty()) {
    throw Error(Trouble::request, "no_rig_work", "the log knows of no qualification of this rig",
                "begin with 'rig qualify --rig rig.toml --shaft reference.toml'");
  }
  const RigReport report = rig_report_of(works.back(), asked.json ? english() : *asked.words);
  if (asked.json) {
    print(rig_report_json(report) + "\n");
    return 0;
  }
  const std::string file = asked.out.empty() ? rig_report_file(report) : asked.out;
  const bool html = file.ends_with(".html") || file.ends_with(".htm");
  DrawingOptions options;
  if (!html) options.format = picture_format(file);
  options.date_unix_s = report.date_unix_s;
  options.pixels_per_mm = 8.0;
  const Paper paper = asked.paper == "letter" ? Paper::letter : Paper::a4;
  const Words& words = *asked.words;
  write_output(file, html ? rig_report_html(report, words) : draw(rig_report_pages(report, words, paper), options),
               drawing_rules(asked.replace, files_of_log(asked.log)));
  print(file + ": " + say(words.rig_work().report_written, report.rig.name) + "\n");
  return 0;
}

CLI::App* add(CLI::App& rig, const std::string& name, const std::string& words, RigAsked& asked) {
  CLI::App* command = rig.add_subcommand(name, words);
  add_log_option(*command, asked.log);
  add_language_option(*command, asked.words);
  command->add_flag("--json", asked.json, "One JSON document for programs");
  return command;
}

/// The verbs that begin something.
void add_beginning(CLI::App& rig, const std::shared_ptr<RigAsked>& asked, int& exit_code) {
  CLI::App* qualify_command = add(rig, "qualify", "Begin to qualify a rig: 34 spins of a reference shaft", *asked);
  CLI::App* check = add(rig, "check", "Begin the daily check: two spins of the reference shaft", *asked);
  CLI::App* recalibrate =
      add(rig, "recalibrate", "Begin to recalibrate the sensors against known masses: three spins", *asked);
  for (CLI::App* command : {qualify_command, check, recalibrate}) {
    command->add_option("--rig", asked->rig_file, "The rig's file, with [qualification]");
    command->add_option("--shaft", asked->shaft_file, "The file of the reference shaft, two planes for test masses");
  }
  recalibrate->add_flag("--write", asked->write,
                        "Write what the last recalibration found into the rig's file, and nothing else");
  qualify_command->footer("Example:\n  counterspot rig qualify --rig rig.toml --shaft reference.toml\n\n" + cautions());
  CLI::Option* reference = check->get_option("--shaft");
  check
      ->add_option("--knocks-a", asked->taps.knocks_a,
                   "No reference shaft at hand: the recording of three knocks on pedestal A, without a shaft, as 'rig "
                   "new' asks for them")
      ->excludes(reference);
  check->add_option("--knocks-b", asked->taps.knocks_b, "Likewise on pedestal B")->excludes(reference);
  check
      ->add_option("--source", asked->taps.live.source,
                   std::string("In place of their recordings, record the knocks now: ") + source_words)
      ->excludes(reference);
  check->add_flag("--record", asked->taps.record, "Likewise, from the shop's source")->excludes(reference);
  asked->taps.live.seconds = "15 s";
  check->add_option("--seconds", asked->taps.live.seconds, "How long at each pedestal")->capture_default_str();
  add_live_options(*check, asked->taps.live.live);
  check->footer(
      "Example:\n  counterspot rig check --rig rig.toml --shaft reference.toml\n  counterspot rig check --rig rig.toml "
      "--knocks-a a.wav --knocks-b b.wav\n  counterspot rig check --rig rig.toml --source alsa:hw:1 --rate \"48 kHz\" "
      "--channels 3");
  recalibrate->footer(
      "Example:\n  counterspot rig recalibrate --rig rig.toml --shaft reference.toml\n  counterspot rig recalibrate "
      "--write --rig rig.toml");
  qualify_command->callback([asked, &exit_code] { exit_code = begin(*asked, RigTask::qualification); });
  check->callback([asked, &exit_code] {
    TapsAsked& taps = asked->taps;
    taps.rig_file = asked->rig_file;
    taps.log = asked->log;
    taps.json = asked->json;
    exit_code = taps.any() ? check_by_taps(taps, *asked->words) : begin(*asked, RigTask::check);
  });
  recalibrate->callback([asked, &exit_code] {
    exit_code = asked->write ? write_sensitivities(*asked) : begin(*asked, RigTask::recalibration);
  });
}

/// The verbs that go on with it.
void add_going_on(CLI::App& rig, const std::shared_ptr<RigAsked>& asked, int& exit_code) {
  CLI::App* spin = add(rig, "spin", "Measure a spin, keep it, and say what comes next", *asked);
  add_spin_options(*spin, asked->spin);
  spin->add_option("--mass", asked->masses, "A test mass as it really was: \"A 102.4 g @ 0 deg\"; all that were on")
      ->allow_extra_args(false);
  spin->add_flag("--as-typed", asked->as_typed, "It is so, though it is far from what was asked for");
  spin->footer("Example:\n  counterspot rig spin 07.wav");
  spin->callback([asked, &exit_code] { exit_code = add_spin(*asked); });

  CLI::App* next = add(rig, "next", "What to do next, or what all spins came to", *asked);
  next->footer("Example:\n  counterspot rig next");
  next->callback([asked, &exit_code] { exit_code = show_next(*asked); });

  CLI::App* back = add(rig, "back", "Take the last spin back; it stays in the log and no longer counts", *asked);
  back->add_option("reason", asked->reason, "Why")->required();
  back->footer("Example:\n  counterspot rig back \"the mass sat at 60 deg\"");
  back->callback([asked, &exit_code] { exit_code = take_back(*asked); });

  CLI::App* close = add(rig, "close", "End the work before all spins are made", *asked);
  close->add_option("reason", asked->reason, "Why")->required();
  close->footer("Example:\n  counterspot rig close \"a pedestal bolt was loose\"");
  close->callback([asked, &exit_code] { exit_code = close_work(*asked); });

  for (CLI::App* command : {spin, next, back, close})
    command->add_option("--rig-name", asked->rig, "Which rig; not needed while only one is in work");
}

void add_reading(CLI::App& rig, const std::shared_ptr<RigAsked>& asked, int& exit_code) {
  CLI::App* show_command = add(rig, "show", "How a rig stands: qualified when, due when, and its newest work", *asked);
  show_command->add_option("--rig", asked->rig_file,
                           "The rig's file as it is now, for how often it is to be qualified");
  add_picture_options(*show_command, asked->picture, "the daily checks, one after the other,");
  show_command->footer("Example:\n  counterspot rig show --picture health.png");
  show_command->callback([asked, &exit_code] { exit_code = show(*asked); });

  CLI::App* report = add(rig, "report", "The last qualification as a dated page", *asked);
  report->add_option("--out", asked->out, "The file: .pdf, .svg, .png or .html (default: rig and day, .pdf)");
  add_replace_option(*report, asked->replace);
  report->add_option("--paper", asked->paper, "a4 or letter")->check(CLI::IsMember({"a4", "letter"}));
  report->footer("Example:\n  counterspot rig report --out bay-2.pdf");
  report->callback([asked, &exit_code] { exit_code = write_report(*asked); });

  for (CLI::App* command : {show_command, report})
    command->add_option("--rig-name", asked->rig, "Which rig; not needed while the log knows only one");
}

}  // namespace

void add_rig(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<RigAsked>();
  CLI::App* rig =
      program.add_subcommand("rig", "Set up a new rig, and prove it: qualification, daily check, recalibration");
  rig->require_subcommand(1);
  rig->footer(
      "Example:\n  counterspot rig qualify --rig rig.toml --shaft reference.toml\nExit code 0: done, passed or "
      "within; 1: failed, or outside.\n\n" +
      cautions());
  add_beginning(*rig, asked, exit_code);
  add_going_on(*rig, asked, exit_code);
  add_reading(*rig, asked, exit_code);
  add_rig_model(*rig, exit_code);
  add_rig_new(*rig, exit_code);
}

}  // namespace counterspot::commands
