#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <iterator>
#include <memory>
#include <utility>

#include "commands/command.hpp"
#include "commands/log_place.hpp"
#include "commands/log_verify.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/drawing/instruction_words.hpp"
#include "counterspot/guide/guide.hpp"
#include "counterspot/log/quality.hpp"
#include "counterspot/log/recordings.hpp"
#include "counterspot/log/seal.hpp"
#include "counterspot/units/measured.hpp"
#include "files/result_form.hpp"
#include "files/text_file.hpp"
#include "report/job_text.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

namespace {

struct LogAsked {
  std::string log;
  std::string shaft, rig, verdict, from, until;
  std::string file;
  std::string what;
  std::string by = "week";
  bool json = false;
  bool csv = false;
  bool recordings = false;
  bool replace = false;
  std::string key;
  std::string name;
  PictureAsked picture;
  const Words* words = &english();

  const LogWords& texts() const { return words->commands().log; }
  LogFilter filter() const {
    LogFilter filter{shaft, rig, verdict, {}, {}};
    if (!from.empty()) filter.from_unix_s = unix_time_of(from);
    if (!until.empty()) filter.until_unix_s = unix_time_of(until);
    return filter;
  }
};

void add_filter_options(CLI::App& command, LogAsked& asked) {
  command.add_option("--shaft", asked.shaft, "Only this shaft");
  command.add_option("--rig", asked.rig, "Only this rig, by the name in its file");
  command.add_option("--verdict", asked.verdict, "Only jobs closed with this verdict, or open ones")
      ->check(CLI::IsMember({"within", "outside", "unsure", "open"}));
  command.add_option("--from", asked.from, "Only jobs opened on this day or later, like 2026-11-25 (UTC)");
  command.add_option("--until", asked.until, "Only jobs opened before this day");
}

std::string outcome_text(const JobOverview& line, const Words& words) {
  if (line.verdict) return verdict_text(*line.verdict, words);
  return line.closed_unix_s ? words.commands().no_final_spin : words.instruction().open;
}

void print_list(const LogAsked& asked) {
  const auto lines = log_to_read(asked.log).list(asked.filter());
  for (const JobOverview& line : lines) {
    if (asked.json) {
      print_json(document_of(line));
    } else {
      const CommandWords& texts = asked.words->commands();
      const std::string ratio =
          line.worst_ratio ? say(texts.percent_of_limit, fmt::format("{:.0f}", 100.0 * *line.worst_ratio)) : "";
      print(fmt::format("{}  {:<18} {:<12} {}  {:<13}{}\n", utc_text(line.opened_unix_s), line.name, line.rig,
                        say(texts.job_spins, line.spins), outcome_text(line, *asked.words), ratio));
    }
  }
  if (lines.empty() && !asked.json) print(asked.words->commands().no_such_jobs);
}

/// One job by its name, or all jobs of a shaft.
void print_jobs(const LogAsked& asked) {
  const Log log = log_to_read(asked.log);
  std::vector<std::string> names;
  if (log.has_job(asked.what)) names.push_back(asked.what);
  if (names.empty()) {
    for (const JobOverview& line : log.list({asked.what, "", "", {}, {}})) names.push_back(line.name);
  }
  if (names.empty()) {
    throw Error(Trouble::request, "no_such_job", fmt::format("the log has no shaft and no job '{}'", asked.what),
                "'log list' shows what there is");
  }
  for (const std::string& name : names) {
    const Job job = log.job(name);
    print(asked.json ? job_to_json_line(job) + "\n" : counterspot::text_of(job, *asked.words));
  }
}

using Put = std::function<void(const std::string& text)>;

OutputRules export_rules(const LogAsked& asked) {
  return {asked.replace ? Overwrite::all : Overwrite::nothing, files_of_log(asked.log)};
}

/// To the file named, or to standard output.
void write_out(const LogAsked& asked, const std::function<void(const Put& put)>& write) {
  if (asked.file.empty()) return write(&print);
  OutputFile file(asked.file, export_rules(asked));
  std::string waiting;
  write([&](const std::string& text) {
    waiting += text;
    if (waiting.size() < std::size_t{1} << 20) return;
    file.write(std::exchange(waiting, {}));
  });
  file.write(waiting);
  file.keep();
}

/// A filter on shafts or verdicts means jobs alone.
std::vector<RigRecord> records_meant(const Log& log, const LogFilter& filter) {
  std::vector<RigRecord> meant;
  if (!filter.shaft.empty() || !filter.verdict.empty()) return meant;
  for (RigRecord& record : log.rig_records(filter.rig, "")) {
    const bool in_time = record.at_unix_s >= filter.from_unix_s.value_or(record.at_unix_s) &&
                         record.at_unix_s < filter.until_unix_s.value_or(record.at_unix_s + 1);
    if (in_time) meant.push_back(std::move(record));
  }
  return meant;
}

/// As the ending of the file's name says, or as was asked for where there is none, or no file: on standard output, a
/// device or a pipe.
ResultForm export_form(const LogAsked& asked) {
  const ResultForm by_option = asked.csv ? ResultForm::csv : ResultForm::jsonl;
  if (asked.file.empty()) return by_option;
  std::error_code none;
  const auto kind = std::filesystem::status(asked.file, none).type();
  if (kind == std::filesystem::file_type::character || kind == std::filesystem::file_type::fifo) return by_option;
  if (!std::filesystem::path(asked.file).has_extension()) return by_option;
  const ResultForm by_name = form_of_growing_name(asked.file);
  if (asked.csv && by_name != ResultForm::csv) {
    throw Error(Trouble::request, "bad_ending",
                fmt::format("{}: --csv asks for a table, and the name for JSON", asked.file),
                "end the name with .csv, or leave --csv out");
  }
  return by_name;
}

/// Twice through the log: the first time for the columns.
void export_table(const Log& log, const LogFilter& filter, const std::vector<RigRecord>& records, const Put& put) {
  TableColumns columns = log_columns();
  log.for_each_job(filter, [&](const Job& job) {
    for (const TableRow& row : rows_of(job)) columns.add(row);
  });
  put(columns.head());
  const auto put_row = [&](const TableRow& row) {
    if (columns.add(row)) {
      throw Error(Trouble::machine, "log_changed", "while the log was exported, others brought other planes into it",
                  "export it again");
    }
    put(columns.line(row));
  };
  log.for_each_job(filter, [&](const Job& job) { std::ranges::for_each(rows_of(job), put_row); });
  for (const RigRecord& record : records) put_row(row_of(record));
}

/// A document a line, or the same lines as one document.
void export_lines(const Log& log, const LogFilter& filter, const std::vector<RigRecord>& records, bool as_array,
                  const Put& put) {
  bool first = true;
  const auto put_line = [&](const std::string& line) {
    put(!as_array ? line + "\n" : (std::exchange(first, false) ? "[\n" : ",\n") + line);
  };
  log.for_each_job(filter, [&](const Job& job) { put_line(job_to_json_line(job)); });
  for (const RigRecord& record : records) put_line(rig_record_to_json_line(record));
  if (as_array) put(first ? "[]\n" : "\n]\n");
}

/// Signs the bytes that were written, not what somebody may have made of the file meanwhile.
class ExportSignature {
 public:
  explicit ExportSignature(const LogAsked& asked) : rules_(export_rules(asked)) {
    if (asked.key.empty()) return;
    if (asked.file.empty()) {
      throw Error(Trouble::request, "no_file", "a signature stands beside a file, and none is named",
                  "name the file with --out; the signature gets the same name with .sig");
    }
    key_ = signing_key_in(asked.key);
    file_ = asked.file + ".sig";
    admit_output(file_, rules_);
  }
  void add(const std::string& text) {
    if (key_) text_ += text;
  }
  void write() const {
    if (key_) write_output(file_, signature_of(*key_, text_), rules_);
  }

 private:
  OutputRules rules_;
  std::optional<SigningKey> key_;
  std::string file_;
  std::string text_;
};

void export_jobs(const LogAsked& asked) {
  if (!asked.file.empty()) admit_output(asked.file, export_rules(asked));
  ExportSignature signature(asked);
  const ResultForm form = export_form(asked);
  const Log log = log_to_read(asked.log);
  write_out(asked, [&](const Put& put_out) {
    const Put put = [&](const std::string& text) {
      signature.add(text);
      put_out(text);
    };
    const auto records = records_meant(log, asked.filter());
    if (form == ResultForm::csv) return export_table(log, asked.filter(), records, put);
    export_lines(log, asked.filter(), records, form == ResultForm::json, put);
  });
  signature.write();
}

void print_imported(const Imported& imported, const LogAsked& asked) {
  if (asked.json) return print_json(document_of(imported));
  const LogWords& texts = asked.texts();
  print(say(texts.imported, imported.jobs, imported.entries));
  if (imported.rig_records > 0) print(say(texts.records_imported, imported.rig_records, imported.new_rig_records));
}

void import_jobs(const LogAsked& asked) {
  const Exported exported = exported_in(text_named(asked.file));
  print_imported(open_log(asked.log, true).import_all(exported), asked);
}

void back_up(const LogAsked& asked) {
  const Log log = log_to_read(asked.log);
  if (!std::filesystem::exists(asked.file)) admit_output(asked.file, {Overwrite::nothing, files_of_log(asked.log)});
  log.back_up(asked.file);
  asked.json ? print_json({{"backup", asked.file}}) : print(say(asked.texts().backed_up, asked.file));
}

void restore(const LogAsked& asked) {
  const Log backup = Log::open_to_read(asked.file, told_sealing());
  print_imported(open_log(asked.log, true).restore(backup), asked);
}

int check_log(const LogAsked& asked) {
  const Log log = log_to_read(asked.log);
  CheckReport report = log.check();
  RecordingsCheck recordings;
  if (asked.recordings) recordings = check_recordings(log);
  report.faults.insert(report.faults.end(), recordings.faults.begin(), recordings.faults.end());
  if (asked.json) {
    print_json(document_of(report, recordings));
  } else {
    const LogWords& texts = asked.texts();
    for (const std::string& fault : report.faults) print(say(texts.fault, fault));
    print(say(texts.checked, report.jobs, report.events,
              report.faults.empty() ? texts.sound : say(texts.faults, report.faults.size())));
    if (report.sealed_later > 0)
      print(say(texts.sealed_since, utc_minute(report.sealed_since_unix_s), report.sealed_later));
    if (asked.recordings) print(say(texts.recordings, recordings.seen, recordings.gone));
  }
  return report.faults.empty() ? 0 : 1;
}

std::string percent(const std::optional<double>& fraction) {
  return fraction ? fmt::format("{:.0f}", 100.0 * *fraction) : "-";
}

void print_trend(const std::vector<TrendGroup>& lines, const std::string& by, const Words& words) {
  const LogWords& texts = words.commands().log;
  print(say(texts.trend_head, by == "week" ? texts.week : by == "rig" ? texts.rig : texts.family));
  for (const TrendGroup& line : lines) {
    print(fmt::format("{:<38} {:>6} {:>6} {:>6} {:>7} {:>7} {:>6} {:>6}\n", line.group, line.closed, line.within,
                      number_text(100.0 * line.yield_fraction(), 1, words), line.unsure + line.without_final,
                      number_text(line.median_spins, 1, words), percent(line.median_ratio),
                      percent(line.highest_ratio)));
  }
}

/// Final residual over limit, job after job.
struct RatioSeries {
  std::vector<double> values;
  std::vector<std::string> jobs;
  std::vector<TrendPoint> points;
};

RatioSeries ratios_of(const std::vector<JobOverview>& newest_first) {
  RatioSeries series;
  const std::vector<JobOverview> oldest_first(newest_first.rbegin(), newest_first.rend());
  for (const JobOverview& line : oldest_first) {
    if (!line.worst_ratio) continue;
    series.values.push_back(*line.worst_ratio);
    series.jobs.push_back(line.name);
    series.points.push_back({line.name, *line.worst_ratio, line.verdict});
  }
  return series;
}

/// As far as the filter says what the picture is of.
PictureOf picture_asked(const LogAsked& asked) {
  PictureOf of;
  of.shaft = asked.shaft;
  of.rig = asked.rig;
  return of;
}

void print_trend(const LogAsked& asked) {
  const auto jobs = log_to_read(asked.log).list(asked.filter());
  const Grouping grouping = asked.by == "week" ? Grouping::week : asked.by == "rig" ? Grouping::rig : Grouping::family;
  const auto lines = trend_of(jobs, grouping);
  const RatioSeries series = ratios_of(jobs);
  const auto chart = control_chart(series.values);
  if (asked.picture)
    write_picture(trend_picture(series.points, chart, *asked.picture.words), picture_asked(asked), asked.picture,
                  files_of_log(asked.log));
  if (!asked.json) {
    print_trend(lines, asked.by, *asked.words);
    if (!chart) return;
    print(say(asked.texts().control_chart, percent(chart->centre), percent(chart->lower), percent(chart->upper)));
    for (std::size_t i : chart->beyond) print(say(asked.texts().beyond, series.jobs[i], percent(series.values[i])));
    return;
  }
  for (const TrendGroup& line : lines) print_json(document_of(line));
  if (!chart) return;
  print_json(document_of(*chart, series.jobs));
}

void print_repeatability(const std::vector<Repeatability>& sensors, const LogAsked& asked) {
  for (const Repeatability& sensor : sensors) {
    const double shown = sensor.deviation_si / si_per_display_unit(sensor.motion);
    asked.json
        ? print_json(document_of(sensor))
        : print(say(asked.texts().scatter, sensor.sensor, with_decimal_sign(significant_text(shown, 2), *asked.words),
                    display_unit(sensor.motion), sensor.degrees_of_freedom));
  }
}

std::string in_two_digits(double unbalance_kg_m, const Words& words) {
  return with_decimal_sign(significant_text(in_g_mm(unbalance_kg_m), 2), words);
}

void print_gauge_study(const Job& job, const std::vector<Job>& jobs, const LogAsked& asked) {
  const Shaft shaft = job.shaft();
  for (std::size_t p = 0; p < shaft.planes.size(); ++p) {
    const auto study = gauge_study(mountings_of(jobs, p));
    if (!study) continue;
    const auto text = [&](double unbalance_kg_m) { return in_two_digits(unbalance_kg_m, *asked.words); };
    asked.json ? print_json(document_of(*study, shaft.planes[p].name))
               : print(say(asked.texts().gauge_study, shaft.planes[p].name, text(study->repeat_kg_m),
                           text(study->mount_kg_m), text(study->total_kg_m), study->mountings, study->spins));
  }
}

std::string text_of(const CoefficientTrend& trend, const LogWords& texts) {
  const std::string band = say(texts.band, percent(trend.band), first_jobs_of_band, trend.jobs.size());
  const std::string text = say(texts.coefficients_of, trend.sensor, trend.rig, trend.family);
  if (!trend.since) {
    std::string once;
    for (std::size_t i : trend.beyond) once += say(texts.beyond_once, trend.jobs[i]);
    return text + say(texts.hold, band, once);
  }
  const Phasor now = trend.ratios.back();
  return text + say(texts.left_band, trend.jobs[*trend.since], band, percent(std::abs(now)),
                    fmt::format("{:.0f}", degrees(std::arg(now))));
}

void print_quality(const LogAsked& asked) {
  std::vector<Job> jobs;
  log_to_read(asked.log).for_each_job(asked.filter(), [&](const Job& job) { jobs.push_back(job); });
  const auto sensors = repeatability_of(jobs);
  print_repeatability(sensors, asked);
  if (sensors.empty() && !asked.json) print(asked.texts().none_repeated);
  const auto trends = coefficient_trends(jobs);
  if (asked.picture)
    write_picture(coefficients_picture(trends, *asked.picture.words), picture_asked(asked), asked.picture,
                  files_of_log(asked.log));
  for (const CoefficientTrend& trend : trends)
    asked.json ? print_json(document_of(trend)) : print(text_of(trend, asked.texts()));
  if (!asked.shaft.empty() && !jobs.empty()) print_gauge_study(jobs.front(), jobs, asked);
}

CLI::App* add(CLI::App& log, const std::string& name, const std::string& words, LogAsked& asked) {
  CLI::App* command = log.add_subcommand(name, words);
  add_log_option(*command, asked.log);
  command->add_flag("--json", asked.json, "JSON Lines for programs");
  add_language_option(*command, asked.words);
  return command;
}

void add_reading(CLI::App& log, const std::shared_ptr<LogAsked>& asked) {
  CLI::App* list = add(log, "list", "The jobs, newest first", *asked);
  add_filter_options(*list, *asked);
  list->footer("Example:\n  counterspot log list --rig \"bay 2\" --verdict outside --from 2026-11-01");
  list->callback([asked] { print_list(*asked); });

  CLI::App* show = add(log, "show", "Everything about a job, or about all jobs of a shaft", *asked);
  show->add_option("what", asked->what, "A job (PS-1042/1) or a shaft (PS-1042)")->required();
  show->footer("Example:\n  counterspot log show PS-1042");
  show->callback([asked] { print_jobs(*asked); });

  CLI::App* trend = add(log, "trend", "Yield, spins a shaft and residual over limit, and a control chart", *asked);
  add_filter_options(*trend, *asked);
  trend->add_option("--by", asked->by, "Sorted by this")
      ->check(CLI::IsMember({"week", "rig", "family"}))
      ->capture_default_str();
  add_picture_options(*trend, asked->picture, "the residual over the limit, job after job,");
  trend->footer("Example:\n  counterspot log trend --by rig --from 2026-01-01 --picture trend.png");
  trend->callback([asked] { print_trend(*asked); });

  CLI::App* quality = add(
      log, "quality", "Repeatability of spins, drift of the rig's coefficients; with --shaft, the gauge study", *asked);
  add_filter_options(*quality, *asked);
  add_picture_options(*quality, asked->picture, "the rig's coefficients, job by job,");
  quality->footer(
      "For a gauge study spin one shaft that stays as it is: a job for each mounting, several spins in each.\n"
      "Example:\n  counterspot log quality --shaft MASTER --rig \"bay 2\"");
  quality->callback([asked] { print_quality(*asked); });
}

void add_moving(CLI::App& log, const std::shared_ptr<LogAsked>& asked, int& exit_code) {
  CLI::App* out =
      add(log, "export", "Whole jobs as JSON Lines, as one JSON document or as a table; 'log import' takes all three",
          *asked);
  add_filter_options(*out, *asked);
  out->add_flag("--csv", asked->csv, "A table: a row for each entry, of a spin one for each sensor");
  out->add_option("--out", asked->file,
                  "Write to this file instead of standard output: .jsonl, .json or .csv, as its name ends");
  out->add_option("--key", asked->key, "Sign the whole file with this key; the signature stands beside it, with .sig");
  add_replace_option(*out, asked->replace);
  out->footer("Example:\n  counterspot log export --from 2026-01-01 --out jobs.csv");
  out->callback([asked] { export_jobs(*asked); });

  CLI::App* in = add(log, "import", "Takes what 'log export' wrote; all of it or nothing", *asked);
  in->add_option("file", asked->file, "The file, or - for standard input")->required();
  in->footer("Example:\n  counterspot log import jobs.jsonl --log shop.db");
  in->callback([asked] { import_jobs(*asked); });

  CLI::App* backup = add(log, "backup", "A copy of the whole log, also while others work with it", *asked);
  backup->add_option("file", asked->file, "The new file")->required();
  backup->footer("Example:\n  counterspot log backup /media/usb/log-2026-11-25.db");
  backup->callback([asked] { back_up(*asked); });

  CLI::App* back =
      add(log, "restore", "Brings a checked backup into a log, new or present; adds what is lacking", *asked);
  back->add_option("file", asked->file, "The backup")->required();
  back->footer("Example:\n  counterspot log restore /media/usb/log-2026-11-25.db --log new.db");
  back->callback([asked] { restore(*asked); });

  CLI::App* check = add(log, "check", "Is the log sound?", *asked);
  check->add_flag("--recordings", asked->recordings, "Also hold the recordings that are there against their SHA-256");
  check->footer("Example:\n  counterspot log check --recordings\nExit code 0: sound; 1: faults were found.");
  check->callback([asked, &exit_code] { exit_code = check_log(*asked); });
}

void make_key(const LogAsked& asked) {
  const SigningKey key = new_signing_key(asked.name);
  keep_signing_key(key, asked.file);
  const std::string code = key_code(public_key_of(key));
  if (asked.json) return print_json({{"key", asked.file}, {"public_key", public_key_of(key)}, {"code", code}});
  print(say(asked.texts().key_made, asked.file, asked.name, asked.file, code));
}

void sign(const LogAsked& asked) {
  const SigningKey key = signing_key_in(asked.key);
  Log log = open_log(asked.log, false);
  const Job job = sign_job(log, log.job(asked.what), key, program_name(), now_unix_s());
  asked.json ? print_json({{"job", job.name}, {"entries", job.events.size()}, {"seal", job.seal}})
             : print(say(asked.texts().signed_now, job.name, key.name, job.events.size() - 1, seal_code(job.seal)));
}

void add_signing(CLI::App& log, const std::shared_ptr<LogAsked>& asked) {
  CLI::App* make = log.add_subcommand("key", "Makes a key to sign jobs and exports with");
  make->add_option("file", asked->file, "The new file; its public part gets the same name with .pub")->required();
  make->add_option("--name", asked->name, "Who signs with it: an inspector, or a rig")->required();
  make->add_flag("--json", asked->json, "One JSON document for programs");
  add_language_option(*make, asked->words);
  make->footer("Example:\n  counterspot log key fenn.key --name \"A. Fenn\"");
  make->callback([asked] { make_key(*asked); });

  CLI::App* one = add(log, "sign", "Signs a closed job as it stands", *asked);
  one->add_option("job", asked->what, "Which, as PS-1042/1")->required();
  one->add_option("--key", asked->key, "The file that 'log key' made")->required();
  one->footer("Example:\n  counterspot log sign PS-1042/1 --key fenn.key");
  one->callback([asked] { sign(*asked); });
}

}  // namespace

std::string text_named(const std::string& file) {
  return file == "-" ? std::string(std::istreambuf_iterator<char>(std::cin), {}) : text_of_file(file);
}

void add_log(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<LogAsked>();
  CLI::App* log = program.add_subcommand("log", "The quality log: find, show, count, export, keep safe");
  log->require_subcommand(1);
  log->footer("Example:\n  counterspot log list --verdict outside");
  add_reading(*log, asked);
  add_moving(*log, asked, exit_code);
  add_signing(*log, asked);
  add_log_verify(*log, exit_code);
}

}  // namespace counterspot::commands
