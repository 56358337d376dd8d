#pragma once

#include <soci/soci.h>

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <utility>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "log/insertion.hpp"

namespace counterspot {

/// The connection, and where the two kinds of database differ.
struct Log::Database {
  std::string place;
  bool sqlite = true;
  mutable soci::session sql;
  mutable std::map<std::string, Insertion> insertions = {};  ///< prepared on this connection, by their words
  mutable int depth = 0;                                     ///< of transactions

  /// Hexadecimal digits, which SQLite keeps as the bytes that they are, half as long: what is written for them, and
  /// what is read for a column of them.
  std::string packed(const std::string& digits) const;
  std::string unpacked(const std::string& column) const;

  /// Reads only, all from one moment. / Writes: no other program writes to the log meanwhile.
  void reading(const std::function<void()>& work) const;
  void writing(const std::function<void()>& work) const;

 private:
  void begin(const char* words) const;
  void transact(const char* words, const std::function<void()>& work) const;
};

/// The database's errors as ours: what happened to which log, and what to do.
Error translated(const soci::soci_error& error, const std::string& place);

template <typename Work>
auto guarded(const std::string& place, Work work) {
  try {
    return work();
  } catch (const soci::soci_error& error) {
    throw translated(error, place);
  }
}

/// What `work` gives: read from one moment, or written as a whole (`Database::reading`, `writing`).
template <typename Work>
auto read_in(const Log::Database& database, Work work) {
  std::optional<decltype(work())> found;
  guarded(database.place, [&] { database.reading([&] { found = work(); }); });
  return std::move(*found);
}
template <typename Work>
auto written_in(const Log::Database& database, Work work) {
  std::optional<decltype(work())> made;
  guarded(database.place, [&] { database.writing([&] { made = work(); }); });
  return std::move(*made);
}

std::unique_ptr<Log::Database> connect(const std::string& place, bool create);

/// A file that cannot be written. @throws Error(machine, "log_read_only") if even reading would need to write.
std::unique_ptr<Log::Database> connect_to_read(const std::string& file);

/// For a log that is only read. @throws Error(request, …) "log_too_new", "log_too_old".
void refuse_other_schema(const Log::Database& database);

/// Brings the database to `schema_version`, from nothing or from an earlier one, or refuses a later one.
void bring_to_present_schema(const Log::Database& database, bool create, const SealingProgress& sealing);

/// 32 hexadecimal digits that nothing else has.
std::string new_uid();

using RowId = long long;

RowId insert_job_row(const Log::Database& database, const Job& job);
void insert_event(const Log::Database& database, RowId job, const Event& event);
std::optional<RowId> row_of_job(const Log::Database& database, const std::string& name);
Job load_job(const Log::Database& database, RowId row);
/// Shaft files by path and text: jobs of one shaft read it once for all of them.
using KeptShafts = std::map<std::pair<std::string, std::string>, Kept<Shaft>>;
/// In the order of `rows`. Eight questions of the log, however many jobs.
/// @param shafts that were read already.
std::vector<Job> load_jobs(const Log::Database& database, const std::vector<RowId>& rows, KeptShafts shafts = {});
std::vector<RowId> rows_of_jobs(const Log::Database& database, const LogFilter& filter);  ///< oldest first
std::vector<RigRecord> stored_records(const Log::Database& database, const std::string& rig = "",
                                      const std::string& kind = "");
/// What is kept in the job's row beside the entries, so that lists need not fold: closed, verdict, ratio, spins.
struct JobSummary {
  std::optional<long long> closed_unix_s;
  std::string verdict;
  std::optional<double> worst_ratio;
  int spins = 0;
  bool operator==(const JobSummary&) const = default;
};
JobSummary summary_of(const Job& job);
void keep_summary(const Log::Database& database, RowId row, const JobSummary& summary);

}  // namespace counterspot
