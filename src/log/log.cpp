#include "counterspot/log/log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <random>
#include <sstream>
#include <string_view>

#include "counterspot/files/files.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "files/output_file.hpp"
#include "log/chain.hpp"
#include "log/columns.hpp"
#include "log/database.hpp"
#include "log/query.hpp"

namespace counterspot {

namespace {

using soci::into;
using soci::use;

constexpr double mm_per_m = 1e3;

Error no_such_job(const std::string& name) {
  return {Trouble::request, "no_such_job", fmt::format("the log has no job '{}'", name),
          "'log list' shows the jobs; a job is named like PS-1042/1"};
}

RowId present_row(const Log::Database& database, const std::string& name) {
  const auto row = row_of_job(database, name);
  return row ? *row : throw no_such_job(name);
}

/// Beginning and end of a year, a month or a day, UTC.
std::optional<std::pair<std::int64_t, std::int64_t>> span_of(const std::string& word) {
  namespace chrono = std::chrono;
  constexpr std::string_view form = "0000-00-00";
  if (word.size() != 4 && word.size() != 7 && word.size() != 10) return std::nullopt;
  for (std::size_t i = 0; i < word.size(); ++i)
    if (form[i] == '-' ? word[i] != '-' : word[i] < '0' || word[i] > '9') return std::nullopt;
  const auto part = [&](std::size_t from, std::size_t digits) {
    return from < word.size() ? std::stoi(word.substr(from, digits)) : 1;
  };
  const chrono::year_month_day first(chrono::year(part(0, 4)), chrono::month(static_cast<unsigned>(part(5, 2))),
                                     chrono::day(static_cast<unsigned>(part(8, 2))));
  if (!first.ok()) return std::nullopt;
  const chrono::sys_days begin(first);
  const chrono::sys_days end = word.size() == 10  ? begin + chrono::days(1)
                               : word.size() == 7 ? chrono::sys_days(first + chrono::months(1))
                                                  : chrono::sys_days(first + chrono::years(1));
  return std::pair{chrono::sys_seconds(begin).time_since_epoch().count(),
                   chrono::sys_seconds(end).time_since_epoch().count()};
}

/// Where it stands in a text, whatever is around it; its own signs are no wildcards.
std::string anywhere(const std::string& word) {
  std::string pattern = "%";
  for (const char letter : word) {
    if (letter == '%' || letter == '_' || letter == '!') pattern += '!';
    pattern += letter;
  }
  return pattern + "%";
}

/// The condition of a query on jobs j, rigs r, shafts s.
struct Condition {
  Condition(const Log::Database& database, LogFilter wanted)
      : filter(std::move(wanted)), begins(database.sqlite ? "instr" : "strpos") {
    std::istringstream all(filter.words);
    for (std::string word; all >> word; words.push_back(word)) patterns.push_back(anywhere(word));
  }

  std::string text() const {
    std::string text;
    auto also = [&](const std::string& condition) {
      text += fmt::format("{}{}", text.empty() ? " WHERE " : " AND ", condition);
    };
    if (!filter.shaft.empty()) also("s.shaft = :shaft");
    if (!filter.rig.empty()) also("r.name = :rig");
    if (filter.verdict == "open") also("j.closed_unix_s IS NULL");
    if (!filter.verdict.empty() && filter.verdict != "open") also("j.verdict = :verdict");
    if (filter.from_unix_s) also("j.opened_unix_s >= :from");
    if (filter.until_unix_s) also("j.opened_unix_s < :until");
    for (std::size_t i = 0; i < words.size(); ++i) also(has_word(i));
    return text;
  }
  /// In the order of the text.
  void bind(soci::statement& statement) const {
    if (!filter.shaft.empty()) statement.exchange(use(filter.shaft));
    if (!filter.rig.empty()) statement.exchange(use(filter.rig));
    if (!filter.verdict.empty() && filter.verdict != "open") statement.exchange(use(filter.verdict));
    if (filter.from_unix_s) statement.exchange(use(from));
    if (filter.until_unix_s) statement.exchange(use(until));
    for (const std::string& pattern : patterns)
      for (int times = 0; times < 3; ++times) statement.exchange(use(pattern));
  }

 private:
  std::string has_word(std::size_t i) const {
    const auto span = span_of(words[i]);
    return fmt::format(
        "(lower(j.name) LIKE lower(:name{0}) ESCAPE '!' OR ({1}(s.definition, '[order]') > 0 AND "
        "lower(substr(s.definition, {1}(s.definition, '[order]') + 7)) LIKE lower(:order{0}) ESCAPE '!') OR EXISTS "
        "(SELECT 1 FROM orders o WHERE o.job = j.id AND lower({3}) LIKE lower(:said{0}) ESCAPE '!' AND NOT EXISTS "
        "(SELECT 1 FROM entries e WHERE e.job = o.job AND e.kind = 'take back' AND e.other = o.number)){2})",
        i, begins,
        span ? fmt::format(" OR (j.opened_unix_s >= {} AND j.opened_unix_s < {})", span->first, span->second) : "",
        "o.customer || ' ' || o.order_number || ' ' || o.part || ' ' || o.serial || ' ' || o.shop || ' ' || "
        "o.balanced_by || ' ' || o.inspected_by || ' ' || o.fixed_by || ' ' || o.limits_by");
  }

  LogFilter filter;
  const char* begins;  // the function that tells where a text begins in another
  std::vector<std::string> words;
  std::vector<std::string> patterns;
  long long from = filter.from_unix_s.value_or(0);
  long long until = filter.until_unix_s.value_or(0);
};

constexpr const char* of_jobs = " FROM jobs j JOIN rigs r ON r.id = j.rig JOIN shafts s ON s.id = j.shaft";

}  // namespace

std::vector<RowId> rows_of_jobs(const Log::Database& database, const LogFilter& filter) {
  const Condition condition(database, filter);
  std::vector<RowId> rows;
  RowId row = 0;
  each_row(
      database.sql, fmt::format("SELECT j.id{}{} ORDER BY j.opened_unix_s, j.id", of_jobs, condition.text()),
      [&](soci::statement& statement) {
        statement.exchange(into(row));
        condition.bind(statement);
      },
      [&] { rows.push_back(row); });
  return rows;
}

namespace {

std::optional<Verdict> verdict_if_any(const std::string& name) {
  for (Verdict verdict : {Verdict::within, Verdict::outside, Verdict::unsure}) {
    if (verdict_name(verdict) == name) return verdict;
  }
  return std::nullopt;
}

/// "PS-1042/3", the first number that is free.
std::string next_name(const Log::Database& database, const std::string& shaft) {
  int made = 0;
  database.sql << "SELECT count(*) FROM jobs j JOIN shafts s ON s.id = j.shaft WHERE s.shaft = :shaft", into(made),
      use(shaft);
  std::string name;
  do name = fmt::format("{}/{}", shaft, ++made);
  while (row_of_job(database, name));
  return name;
}

/// A job that was altered, or cannot be read, can only be looked at.
bool can_go_on(const Log::Database& database, RowId row) {
  try {
    unaltered(database, load_job(database, row));
    return true;
  } catch (const Error&) {
    return false;
  }
}

void refuse_second_open_job(const Log::Database& database, const std::string& shaft) {
  std::vector<std::pair<RowId, std::string>> open;
  std::pair<RowId, std::string> job;
  each_row(
      database.sql,
      "SELECT j.id, j.name FROM jobs j JOIN shafts s ON s.id = j.shaft WHERE s.shaft = :shaft AND j.closed_unix_s IS "
      "NULL",
      [&](soci::statement& statement) {
        statement.exchange(into(job.first));
        statement.exchange(into(job.second));
        statement.exchange(use(shaft));
      },
      [&] { open.push_back(job); });
  const auto in_the_way =
      std::find_if(open.begin(), open.end(), [&](const auto& each) { return can_go_on(database, each.first); });
  if (in_the_way == open.end()) return;
  const std::string& name = in_the_way->second;
  throw Error(Trouble::request, "job_open", fmt::format("shaft {} has an open job, {}", shaft, name),
              fmt::format("go on with it ('job next --job {}'), or close it", name));
}

/// They would be acted on by whoever shows the name: a terminal, a spreadsheet, a printer.
void refuse_control_characters(const std::string& name, const std::string& file) {
  const auto is_control = [](unsigned char c) { return c < 0x20 || c == 0x7f; };
  if (std::none_of(name.begin(), name.end(), is_control)) return;
  throw Error(Trouble::request, "bad_name",
              fmt::format("{}: the name in it holds a control character, such as a tab or the end of a line", file),
              "write it with letters, digits and marks that can be seen");
}

void insert_whole(const Log::Database& database, const Job& job) {
  const RowId row = insert_job_row(database, job);
  for (const Event& event : job.events) insert_event(database, row, event);
  keep_summary(database, row, summary_of(job));
}

/// @return its seal.
std::string keep_whole(const Log::Database& database, const Job& job) {
  insert_whole(database, job);
  return seal_job(database, job);
}

/// Both hold the same entries as far as both go?
bool agree(const Job& one, const Job& other) {
  Job a = one;
  Job b = other;
  b.name = a.name;
  a.seal = b.seal = "";
  const std::size_t common = std::min(a.events.size(), b.events.size());
  a.events.resize(common);
  b.events.resize(common);
  return job_to_json_line(a) == job_to_json_line(b);
}

int add_lacking(const Log::Database& database, RowId row, const Job& job) {
  Job present = unaltered(database, load_job(database, row));
  if (!agree(present, job)) {
    throw Error(Trouble::request, "job_differs",
                fmt::format("job {} is in the log already, with other entries than the ones to be imported", job.name),
                "compare both with 'job show'; nothing was imported");
  }
  const std::size_t first = present.events.size();
  for (std::size_t i = first; i < job.events.size(); ++i) present.events.push_back(job.events[i]);
  admit_entries(present, first);
  for (std::size_t i = first; i < present.events.size(); ++i) insert_event(database, row, present.events[i]);
  if (first == present.events.size()) return 0;
  seal_entries(database, present, first);
  keep_summary(database, row, summary_of(present));
  return static_cast<int>(present.events.size() - first);
}

void refuse_bad_signature(const Job& job) {
  const auto faults = faults_of_signatures(job);
  if (faults.empty()) return;
  throw Error(Trouble::request, "bad_signature", fmt::format("job {}: {}", job.name, faults.front()),
              "take it from a log or a backup whose 'log check' finds no fault; nothing was kept");
}

void refuse_broken_seal(const Job& job) {
  if (job.seal.empty() || job.seal == seal_of(job)) return;
  throw Error(Trouble::request, "seal_broken",
              fmt::format("job {}: its entries are not those that were sealed: something was changed later", job.name),
              "take it from a log or a backup whose 'log check' finds no fault; nothing was imported");
}

int insert_new(const Log::Database& database, Job job) {
  admit_entries(job);
  if (row_of_job(database, job.name)) job.name = next_name(database, job.shaft().id);
  keep_whole(database, job);
  return static_cast<int>(job.events.size());
}

}  // namespace

std::string new_uid() {
  std::random_device random;
  std::string uid;
  for (int i = 0; i < 4; ++i) uid += fmt::format("{:08x}", random());
  return uid;
}

std::string family_of(const Shaft& shaft) {
  std::string words;
  if (shaft.tube) {
    words = fmt::format("tube {:.0f} × {:.1f} × {:.0f} mm, ", shaft.tube->outside_diameter_m * mm_per_m,
                        shaft.tube->wall_m * mm_per_m, 10.0 * std::round(shaft.tube->length_m * mm_per_m / 10.0));
  } else if (shaft.mass_kg) {
    words = fmt::format("{:.0f} kg, ", *shaft.mass_kg);
  }
  return words + fmt::format("{} planes", shaft.planes.size());
}

Log::Log(std::unique_ptr<Database> database) : database_(std::move(database)) {}
Log::Log(Log&&) noexcept = default;
Log& Log::operator=(Log&&) noexcept = default;
Log::~Log() = default;

Log Log::open(const std::string& place, bool create, const SealingProgress& sealing) {
  auto database = connect(place, create);
  guarded(database->place, [&] { bring_to_present_schema(*database, create, sealing); });
  return Log(std::move(database));
}

Log Log::open_to_read(const std::string& place, const SealingProgress& sealing) {
  try {
    return open(place, false, sealing);
  } catch (const Error& error) {
    if (error.code() != "log_read_only") throw;
  }
  auto database = connect_to_read(place);
  guarded(database->place, [&] { refuse_other_schema(*database); });
  return Log(std::move(database));
}

Job Log::open_job(const Opening& opening) {
  Job job{new_uid(),
          "",
          opening.at_unix_s,
          opening.program,
          {opening.rig_file, opening.rig_text},
          {opening.shaft_file, opening.shaft_text},
          {}};
  const std::string shaft = job.shaft().id;
  refuse_control_characters(shaft, opening.shaft_file);
  refuse_control_characters(job.rig().name, opening.rig_file);
  guarded(database_->place, [&] {
    database_->writing([&] {
      refuse_second_open_job(*database_, shaft);
      job.name = next_name(*database_, shaft);
      job.seal = keep_whole(*database_, job);
    });
  });
  return job;
}

Job Log::job(const std::string& name) const {
  return read_in(*database_,
                 [&] { return unaltered(*database_, load_job(*database_, present_row(*database_, name))); });
}

bool Log::has_job(const std::string& name) const {
  return read_in(*database_, [&] { return row_of_job(*database_, name).has_value(); });
}

namespace {

Job with_entry(const Log::Database& database, RowId row, Job job, const Event& event) {
  admit(job, event);
  insert_event(database, row, event);
  job.events.push_back(event);
  if (std::holds_alternative<Signed>(event.what)) refuse_bad_signature(job);
  job.seal = seal_entries(database, job, job.events.size() - 1);
  keep_summary(database, row, summary_of(job));
  return job;
}

}  // namespace

Job Log::append(const Job& seen, What what, const std::string& program, std::int64_t at_unix_s) {
  const Event event{static_cast<int>(seen.events.size()) + 1, at_unix_s, program, std::move(what)};
  return written_in(*database_, [&] {
    const RowId row = present_row(*database_, seen.name);
    return with_entry(*database_, row, unaltered(*database_, load_job(*database_, row)), event);
  });
}

std::optional<Job> Log::close_altered(const std::string& name, const std::string& reason, const std::string& program,
                                      std::int64_t at_unix_s) {
  return written_in(*database_, [&]() -> std::optional<Job> {
    const RowId row = present_row(*database_, name);
    const Job job = load_job(*database_, row);
    if (faults_of_seals(*database_, job).empty()) return std::nullopt;
    const int number = static_cast<int>(job.events.size()) + 1;
    return with_entry(*database_, row, job, {number, at_unix_s, program, Closed{{}, {}, reason}});
  });
}

std::vector<std::pair<std::string, int>> Log::entries_of_recording(const std::string& sha256) const {
  return read_in(*database_, [&] {
    std::vector<std::pair<std::string, int>> entries;
    std::pair<std::string, int> entry;
    each_row(
        database_->sql,
        "SELECT j.name, s.number FROM spins s JOIN jobs j ON j.id = s.job WHERE s.sha256 = :sha ORDER BY j.id DESC, "
        "s.number",
        [&](soci::statement& statement) {
          statement.exchange(into(entry.first));
          statement.exchange(into(entry.second));
          statement.exchange(use(sha256));
        },
        [&] { entries.push_back(entry); });
    return entries;
  });
}

std::vector<JobOverview> Log::list(const LogFilter& filter) const {
  return list(filter, 0, std::numeric_limits<int>::max());
}

std::vector<JobOverview> Log::list(const LogFilter& filter, int first, int count) const {
  const Condition condition(*database_, filter);
  std::vector<JobOverview> lines;
  JobOverview line;
  long long opened = 0;
  std::optional<long long> closed;
  std::string verdict;
  return read_in(*database_, [&] {
    each_row(
        database_->sql,
        fmt::format("SELECT j.name, s.shaft, r.name, s.family, j.opened_unix_s, j.closed_unix_s, j.spins, j.verdict, "
                    "j.worst_ratio{}{} ORDER BY j.opened_unix_s DESC, j.id DESC LIMIT {} OFFSET {}",
                    of_jobs, condition.text(), std::max(0, count), std::max(0, first)),
        [&](soci::statement& statement) {
          for (std::string* text : {&line.name, &line.shaft, &line.rig, &line.family}) statement.exchange(into(*text));
          statement.exchange(into(opened));
          statement.exchange(into(closed));
          statement.exchange(into(line.spins));
          statement.exchange(into(verdict));
          statement.exchange(into(line.worst_ratio));
          condition.bind(statement);
        },
        [&] {
          line.opened_unix_s = opened;
          line.closed_unix_s = closed;
          line.verdict = verdict_if_any(verdict);
          lines.push_back(line);
        });
    return lines;
  });
}

void Log::for_each_job(const LogFilter& filter, const std::function<void(const Job&)>& visit) const {
  guarded(database_->place, [&] {
    database_->reading([&] {
      constexpr std::ptrdiff_t at_a_time = 200;
      const std::vector<RowId> rows = rows_of_jobs(*database_, filter);
      for (auto begin = rows.begin(); begin != rows.end();) {
        const auto end = begin + std::min(at_a_time, rows.end() - begin);
        for (const Job& job : load_jobs(*database_, {begin, end})) visit(job);
        begin = end;
      }
    });
  });
}

int Log::import_job(const Job& job) {
  refuse_broken_seal(job);
  refuse_bad_signature(job);
  return written_in(*database_, [&] {
    std::string name;
    database_->sql << "SELECT name FROM jobs WHERE uid = :uid", into(name), use(job.uid);
    return database_->sql.got_data() ? add_lacking(*database_, *row_of_job(*database_, name), job)
                                     : insert_new(*database_, job);
  });
}

namespace {

void insert_record(const Log::Database& database, RigRecord record) {
  Columns columns;
  fields(columns, record);
  columns.insert_into("rig_records", database);
}

void keep_record(const Log::Database& database, const RigRecord& record) {
  insert_record(database, record);
  seal_record(database, record);
}

}  // namespace

void Log::keep(const RigRecord& record) {
  guarded(database_->place, [&] { database_->writing([&] { keep_record(*database_, record); }); });
}

void Log::keep_after(std::size_t seen, const std::vector<RigRecord>& records) {
  guarded(database_->place, [&] {
    database_->writing([&] {
      const RigRecord& first = records.front();
      long long present = 0;
      database_->sql << "SELECT count(*) FROM rig_records WHERE rig = :rig AND kind = :kind", into(present),
          use(first.rig), use(first.kind);
      if (present != static_cast<long long>(seen)) {
        throw Error(Trouble::request, "rig_moved_on",
                    fmt::format("someone else wrote to the {} of rig {} meanwhile", first.kind, first.rig),
                    "look at 'rig show' and enter it again");
      }
      for (const RigRecord& record : records) keep_record(*database_, record);
    });
  });
}

bool Log::import_record(const RigRecord& record) {
  return written_in(*database_, [&] {
    const long long at = record.at_unix_s;
    long long present = 0;
    database_->sql << "SELECT count(*) FROM rig_records WHERE rig = :rig AND kind = :kind AND at_unix_s = :at AND "
                      "program = :program AND details = :details",
        into(present), use(record.rig), use(record.kind), use(at), use(record.program), use(record.details);
    if (present == 0) keep_record(*database_, record);
    return present == 0;
  });
}

std::vector<RigRecord> stored_records(const Log::Database& database, const std::string& rig, const std::string& kind) {
  const std::string condition = fmt::format("{}{}{}", rig.empty() && kind.empty() ? "" : " WHERE ",
                                            rig.empty()    ? ""
                                            : kind.empty() ? "rig = :rig"
                                                           : "rig = :rig AND ",
                                            kind.empty() ? "" : "kind = :kind");
  std::vector<RigRecord> records;
  RigRecord record;
  Columns columns;
  fields(columns, record);
  each_row(
      database.sql, fmt::format("SELECT {} FROM rig_records{} ORDER BY at_unix_s, id", columns.names(), condition),
      [&](soci::statement& statement) {
        columns.bind(statement);
        if (!rig.empty()) statement.exchange(use(rig));
        if (!kind.empty()) statement.exchange(use(kind));
      },
      [&] {
        columns.settle();
        records.push_back(record);
      });
  return records;
}

std::vector<RigRecord> Log::rig_records(const std::string& rig, const std::string& kind) const {
  return read_in(*database_, [&] { return stored_records(*database_, rig, kind); });
}

std::int64_t Log::rig_record_count(const std::string& rig) const {
  return read_in(*database_, [&] {
    long long count = 0;
    database_->sql << "SELECT count(*) FROM rig_records WHERE rig = :rig", into(count), use(rig);
    return count;
  });
}

std::vector<LogLink> Log::links_of(const Job& job) const {
  return read_in(*database_, [&] { return counterspot::links_of(*database_, job); });
}

Imported Log::import_all(const Exported& exported) {
  return written_in(*database_, [&] {
    const std::vector<std::string> before = faults_of_rig_works(*this);
    Imported imported{static_cast<int>(exported.jobs.size()), 0, static_cast<int>(exported.rig_records.size()), 0};
    for (const Job& job : exported.jobs) imported.entries += import_job(job);
    for (const RigRecord& record : exported.rig_records) imported.new_rig_records += import_record(record) ? 1 : 0;
    for (const std::string& fault : faults_of_rig_works(*this)) {
      if (std::find(before.begin(), before.end(), fault) != before.end()) continue;
      throw Error(Trouble::request, "bad_rig_record", fault,
                  "import what 'log export' wrote, unchanged; nothing was imported");
    }
    return imported;
  });
}

Imported Log::restore(const Log& backup) {
  const CheckReport report = backup.check();
  if (!report.faults.empty()) {
    throw Error(Trouble::machine, "log_damaged", fmt::format("{}: {}", backup.database_->place, report.faults.front()),
                "restore an older backup");
  }
  return written_in(*database_, [&] {
    Imported imported;
    const bool was_empty = rows_of_jobs(*database_, {}).empty() && stored_records(*database_).empty();
    backup.for_each_job({}, [&](const Job& job) {
      ++imported.jobs;
      imported.entries += import_job(job);
    });
    for (const RigRecord& record : backup.rig_records("", "")) {
      ++imported.rig_records;
      imported.new_rig_records += import_record(record) ? 1 : 0;
    }
    if (was_empty) copy_chain(*backup.database_, *database_);
    return imported;
  });
}

void Log::at_once(const std::function<void()>& work) {
  guarded(database_->place, [&] { database_->writing(work); });
}

namespace {

void check_database(const Log::Database& database, CheckReport& report) {
  if (!database.sqlite) return;  // PostgreSQL checks its own pages
  std::string words;
  each_row(
      database.sql, "PRAGMA integrity_check", [&](soci::statement& statement) { statement.exchange(into(words)); },
      [&] {
        if (words != "ok") report.faults.push_back("the database's own check says: " + words);
      });
  each_row(
      database.sql, "SELECT \"table\" FROM pragma_foreign_key_check",
      [&](soci::statement& statement) { statement.exchange(into(words)); },
      [&] { report.faults.push_back(fmt::format("a row of '{}' belongs to nothing", words)); });
}

void check_closing(const Job& job, CheckReport& report) {
  const JobState state = state_of(job.events);
  if (!state.closing) return;
  Job before = job;
  before.events.resize(static_cast<std::size_t>(*state.closing - 1));
  try {
    admit(before, job.events[before.events.size()]);
  } catch (const Error& error) {
    report.faults.emplace_back(error.what());
  }
}

/// What lists and the choice of jobs go by is taken from the rig's and the shaft's definition.
void check_definitions(const Log::Database& database, RowId row, const Job& job, CheckReport& report) {
  std::string rig;
  std::string shaft;
  std::string family;
  int planes = 0;
  database.sql << "SELECT r.name, s.shaft, s.family, s.planes FROM jobs j JOIN rigs r ON r.id = j.rig JOIN shafts s ON "
                  "s.id = j.shaft WHERE j.id = :row",
      into(rig), into(shaft), into(family), into(planes), use(row);
  const Shaft& defined = job.shaft();
  if (rig == job.rig().name && shaft == defined.id && family == family_of(defined) &&
      planes == static_cast<int>(defined.planes.size()))
    return;
  report.faults.push_back(
      fmt::format("job {}: the names of its rig and shaft are not those of their definitions", job.name));
}

void check_job(const Log::Database& database, RowId row, CheckReport& report) {
  JobSummary kept;
  std::string name;
  database.sql << "SELECT name, closed_unix_s, verdict, worst_ratio, spins FROM jobs WHERE id = :row", into(name),
      into(kept.closed_unix_s), into(kept.verdict), into(kept.worst_ratio), into(kept.spins), use(row);
  ++report.jobs;
  try {
    const Job job = load_job(database, row);
    report.events += static_cast<std::int64_t>(job.events.size());
    if (kept != summary_of(job))
      report.faults.push_back(fmt::format("job {}: what is kept beside its entries is not what they come to", name));
    for (std::string& fault : faults_of_seals(database, job)) report.faults.push_back(std::move(fault));
    check_definitions(database, row, job, report);
    check_closing(job, report);
  } catch (const Error& error) {
    report.faults.push_back(fmt::format("job {}: {}", name, error.what()));
  }
}

}  // namespace

CheckReport Log::check() const {
  CheckReport report;
  guarded(database_->place, [&] {
    database_->reading([&] {
      check_database(*database_, report);
      for (RowId row : rows_of_jobs(*database_, {})) check_job(*database_, row, report);
      for (std::string& fault : faults_of_seals(*database_, stored_records(*database_)))
        report.faults.push_back(std::move(fault));
      check_chain(*database_, report);
      for (std::string& fault : faults_of_rig_works(*this)) report.faults.push_back(std::move(fault));
    });
  });
  return report;
}

void Log::back_up(const std::filesystem::path& file) const {
  if (std::filesystem::exists(file)) {
    throw Error(Trouble::request, "backup_exists", fmt::format("{}: there is such a file already", file.string()),
                "choose another name; a backup never overwrites anything");
  }
  const std::filesystem::path part = part_beside(file);
  try {
    {
      Log copy = Log::open(part.string(), true);
      guarded(part.string(), [&] {
        copy.database_->writing([&] {
          for_each_job({}, [&](const Job& job) { insert_whole(*copy.database_, job); });
          for (const RigRecord& record : rig_records("", "")) insert_record(*copy.database_, record);
          copy_chain(*database_, *copy.database_);
        });
        std::string mode;
        copy.database_->sql << "PRAGMA journal_mode=DELETE", into(mode);  // one file, nothing beside it
      });
    }
    give_name(part, file, Overwrite::nothing);
  } catch (...) {
    std::error_code ignored;
    for (const char* beside : {"", "-wal", "-shm", "-journal"})
      std::filesystem::remove(part.string() + beside, ignored);
    throw;
  }
}

}  // namespace counterspot
