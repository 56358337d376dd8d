#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "counterspot/files/table.hpp"
#include "counterspot/job/job.hpp"

namespace counterspot {

/// Which jobs are meant. Empty means all.
struct LogFilter {
  std::string shaft;
  std::string rig;
  std::string verdict;                       ///< "within", "outside", "unsure", or "open"
  std::optional<std::int64_t> from_unix_s;   ///< opened at or after
  std::optional<std::int64_t> until_unix_s;  ///< opened before
  /// Each of these words is in the job's name or in its order (customer, serial number, …), in capitals or not, or is
  /// the beginning of the day it was opened on, as 2026, 2026-11 or 2026-11-25 (UTC).
  std::string words = {};
};

/// A job in one line.
struct JobOverview {
  std::string name;
  std::string shaft;
  std::string rig;
  std::string family;  ///< "76.2 × 2.1 × 1420 mm, 14.6 kg, 2 planes"
  std::int64_t opened_unix_s = 0;
  std::optional<std::int64_t> closed_unix_s;
  int spins = 0;                      ///< that count
  std::optional<Verdict> verdict;     ///< of the close; empty: open, or closed without a final spin
  std::optional<double> worst_ratio;  ///< final residual over limit
};

/// Shafts that are alike in tube, mass and planes, in words.
std::string family_of(const Shaft& shaft);

/// What a new job starts from.
struct Opening {
  std::string rig_file, rig_text;
  std::string shaft_file, shaft_text;
  std::string program;
  std::int64_t at_unix_s = 0;
};

/// Something known of a rig beside its jobs: what its adapters weigh off centre, a qualification, a daily check. Only
/// ever added to; the newest of a kind counts.
struct RigRecord {
  std::string rig;   ///< its name
  std::string kind;  ///< "adapters", or an entry of a "qualification", a "check", a "recalibration"
  std::int64_t at_unix_s = 0;
  std::string program;
  std::string details;  ///< JSON, as the part of the program that keeps it writes it
  bool operator==(const RigRecord&) const = default;
};

/// A job as far as it takes to see whether what was learnt from it still holds: entries are only ever added.
struct JobStamp {
  std::string uid;
  std::string name;
  int entries = 0;
};

/// One link of the chain that a log makes of all it keeps (log/seal.hpp).
struct LogLink {
  std::int64_t number = 0;  ///< 1, 2, 3, … in the log
  std::string sha256;       ///< of it, and by that of all links before it
};

struct CheckReport {
  std::int64_t jobs = 0;
  std::int64_t events = 0;
  std::int64_t sealed_since_unix_s = 0;
  std::int64_t sealed_later = 0;  ///< openings, entries and records that are older, and were sealed as they stood then
  std::vector<std::string> faults;  ///< one sentence each; empty: sound
};

/// All that a log exported.
struct Exported {
  std::vector<Job> jobs;
  std::vector<RigRecord> rig_records;
};

/// What came into a log from elsewhere.
struct Imported {
  int jobs = 0;         ///< read
  int entries = 0;      ///< new
  int rig_records = 0;  ///< read
  int new_rig_records = 0;
};

/// Told now and then while an older log gets its seals, once, which takes minutes where it is large: how many openings,
/// entries and records have been gone through.
using SealingProgress = std::function<void(std::int64_t done, std::int64_t all)>;

/// The quality log: one database, SQLite in a file or PostgreSQL by URL. Entries are only ever added. An entry counts
/// as acknowledged when `open_job` or `append` returns; by then it is on the disk (SQLite: write-ahead log, full
/// synchronisation; PostgreSQL: its default synchronous commit). Several programs may work with one log at once.
/// Its tables and their versions are described in src/log/schema.cpp.
/// Every function @throws Error(machine, …): "log_full", "log_read_only", "log_busy", "log_damaged", "log_unreachable",
/// "log_failed"; what was acknowledged before stays.
class Log {
 public:
  /// @param place a file's path, or "postgresql://…". An older log is brought to the present schema.
  /// @throws Error(request, …) "no_log" (no such file, and `create` is false), "log_too_new" (of a later program),
  /// "not_a_log".
  static Log open(const std::string& place, bool create, const SealingProgress& sealing = {});
  /// The same of a log that there is, only to read; also where neither the file nor its folder can be written. If what
  /// was last written still waits in a file beside it (`-wal`), that one must be there and readable too.
  static Log open_to_read(const std::string& place, const SealingProgress& sealing = {});
  Log(Log&&) noexcept;
  Log& operator=(Log&&) noexcept;
  ~Log();

  /// Reads both texts. @throws Error(request, …) of the files; "job_open" if this shaft already has an open job.
  Job open_job(const Opening& opening);
  /// @throws Error(request, "no_such_job"); Error(machine, "log_altered") if it is not as it was sealed.
  Job job(const std::string& name) const;
  bool has_job(const std::string& name) const;
  /// Of the opening and of each entry.
  std::vector<LogLink> links_of(const Job& job) const;
  /// @param seen the job as it was when the step was decided. @return the job with the entry. @throws what `admit`
  /// does.
  Job append(const Job& seen, What what, const std::string& program, std::int64_t at_unix_s);

  /// Closes an open job that was altered, with a reason and without a final spin, so that it is no longer in the way;
  /// what was altered stays named by `check`. @return empty if the job is as it was sealed. @throws what `admit` does.
  std::optional<Job> close_altered(const std::string& name, const std::string& reason, const std::string& program,
                                   std::int64_t at_unix_s);

  /// Where a recording stands: the names of the jobs, the newest first, with the numbers of their entries.
  std::vector<std::pair<std::string, int>> entries_of_recording(const std::string& sha256) const;

  /// Newest first.
  std::vector<JobOverview> list(const LogFilter& filter = {}) const;
  /// Of that list so many, from one on, which counts from 0.
  std::vector<JobOverview> list(const LogFilter& filter, int first, int count) const;
  /// Whole jobs, oldest first, all from one moment.
  void for_each_job(const LogFilter& filter, const std::function<void(const Job&)>& use) const;
  /// Whole jobs of one rig whose shafts have the given number of planes (0: any), newest first, at most `limit`; to
  /// learn from.
  std::vector<Job> jobs_to_learn_from(const std::string& rig, int planes, int limit) const;
  /// The same of the shafts that are wanted, among the newest 600 jobs.
  std::vector<Job> jobs_to_learn_from(const std::string& rig, int planes, int limit,
                                      const std::function<bool(const Shaft&)>& wanted) const;
  /// Those that `jobs_to_learn_from(rig, 0, limit)` would give.
  std::vector<JobStamp> stamps_to_learn_from(const std::string& rig, int limit) const;

  /// What was learnt of a rig from just this, as it was kept; empty if it was not. Beside the entries, and no evidence.
  std::optional<std::string> learnt(const std::string& rig, const std::string& learnt_from) const;
  /// Keeps it; of one rig the last few.
  void keep_learnt(const std::string& rig, const std::string& learnt_from, const std::string& state) const;
  /// All that is kept of a rig, which will be learnt anew.
  void forget_learnt(const std::string& rig);

  /// Brings in a job of another log as it is. A job that is there already gains the entries it lacks.
  /// @return the number of entries that were new. @throws Error(request, …) "job_differs" if both have other entries,
  /// "seal_broken" if they are not those that its seal stands for.
  int import_job(const Job& job);

  void keep(const RigRecord& record);
  /// Keeps records of one rig and kind, all or none, if there are `seen` of them now.
  /// @throws Error(request, "rig_moved_on") if another program wrote meanwhile.
  void keep_after(std::size_t seen, const std::vector<RigRecord>& records);
  /// From another log. @return false if it is there already.
  bool import_record(const RigRecord& record);
  /// Oldest first; of all kinds if `kind` is empty, of all rigs if `rig` is.
  std::vector<RigRecord> rig_records(const std::string& rig, const std::string& kind) const;
  /// How many a rig has; grows with each: what tells cheaply whether anything was added.
  std::int64_t rig_record_count(const std::string& rig) const;

  /// Brings in all that another log exported: all of it or nothing. @throws also Error(request, "bad_rig_record") if
  /// the work on a rig would not hold together.
  Imported import_all(const Exported& exported);
  /// Brings in all of a backup, if its check finds no fault: all of it or nothing. A log that was empty gets its chain
  /// as well, so that the links that stand on sheets are found in it. @throws Error(machine, "log_damaged").
  Imported restore(const Log& backup);

  /// Runs `work` as one transaction: all of it or nothing.
  void at_once(const std::function<void()>& work);

  /// The file's or server's own check; every job's entries in order; what is kept beside the entries against the fold.
  CheckReport check() const;

  /// A copy of all jobs into a new SQLite file, also of a PostgreSQL log; complete or not there at all.
  /// @throws Error(request, "backup_exists").
  void back_up(const std::filesystem::path& file) const;

  struct Database;

 private:
  explicit Log(std::unique_ptr<Database> database);
  std::unique_ptr<Database> database_;
};

/// One job as one line of JSON (no line end), and back; every number comes back bit for bit.
/// @throws Error(request, "bad_log_line").
std::string job_to_json_line(const Job& job);
Job job_of_json_line(const std::string& line);

std::string rig_record_to_json_line(const RigRecord& record);
/// Empty if the line is something else, a job. @throws Error(request, "bad_log_line").
std::optional<RigRecord> rig_record_of_json_line(const std::string& line);

/// The lines of many jobs and records that stand as an array in one document. @throws Error(request, "bad_log_line").
std::vector<std::string> lines_of_log_document(const std::string& text);

/// The same as a table: a row for each entry, of a spin one for each sensor; columns to read, and one (`details`) that
/// holds everything. Its first columns are those of `log_columns`; the rows add what the planes and units call for.
TableColumns log_columns();
std::vector<TableRow> rows_of(const Job& job);
TableRow row_of(const RigRecord& record);
bool is_log_table(const std::string& first_line);
/// Each reads what is its own. @throws Error(request, "bad_log_line") with the row.
std::vector<Job> jobs_of_csv(const std::string& text);
std::vector<RigRecord> rig_records_of_csv(const std::string& text);

/// Of JSON Lines, one document, or the table, told by how it begins. Blank lines say nothing.
/// @throws Error(request, "bad_log_line").
Exported exported_in(std::string text);

/// SHA-256 of a file, 64 lower-case hexadecimal digits. @throws Error(recording, "not_found").
std::string sha256_of_file(const std::filesystem::path& file);

/// The same of a recording: of a folder of channels it is that of its files' lines as `sha256sum` prints them, in the
/// order of their names (`cd spin-1 && LC_ALL=C sha256sum *.wav | sha256sum`). @throws as `sha256_of_file`.
std::string sha256_of_recording(const std::filesystem::path& recording);

std::int64_t now_unix_s();

/// "2026-11-25", and "2026-11-25 13:05 UTC", for people.
std::string utc_day(std::int64_t unix_s);
std::string utc_minute(std::int64_t unix_s);
/// "2026-11-25T13:05:00Z" and back. @throws Error(request, "bad_time").
std::string utc_text(std::int64_t unix_s);
std::int64_t unix_time_of(const std::string& text);  ///< also "2026-11-25": the midnight before it, UTC

}  // namespace counterspot
