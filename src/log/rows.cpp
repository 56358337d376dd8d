#include <fmt/format.h>
#include <fmt/ranges.h>

#include <map>
#include <stdexcept>
#include <variant>

#include "counterspot/files/files.hpp"
#include "log/columns.hpp"
#include "log/database.hpp"
#include "log/query.hpp"

namespace counterspot {

namespace {

using soci::into;
using soci::use;

Error strange(std::string_view what, const std::string& value) {
  return {Trouble::machine, "log_damaged", fmt::format("the log has '{}' where {} should stand", value, what),
          "run 'log check', and restore the last backup if it finds faults"};
}

Error belongs_nowhere() {
  return strange("a row of an entry", "a row that belongs to none");
}

/// The same definition is kept once.
RowId rig_row(soci::session& sql, const Job& job, const std::string& name) {
  RowId row = 0;
  sql << "SELECT id FROM rigs WHERE name = :name AND definition = :definition AND file = :file", into(row), use(name),
      use(job.rig_file.text()), use(job.rig_file.path());
  if (sql.got_data()) return row;
  sql << "INSERT INTO rigs (name, file, definition) VALUES (:name, :file, :definition) RETURNING id", into(row),
      use(name), use(job.rig_file.path()), use(job.rig_file.text());
  return row;
}

RowId shaft_row(soci::session& sql, const Job& job) {
  const Shaft& shaft = job.shaft();
  RowId row = 0;
  sql << "SELECT id FROM shafts WHERE shaft = :shaft AND definition = :definition AND file = :file", into(row),
      use(shaft.id), use(job.shaft_file.text()), use(job.shaft_file.path());
  if (sql.got_data()) return row;
  const std::string family = family_of(shaft);
  const int planes = static_cast<int>(shaft.planes.size());
  sql << "INSERT INTO shafts (shaft, family, planes, file, definition) VALUES (:shaft, :family, :planes, :file, "
         ":definition) RETURNING id",
      into(row), use(shaft.id), use(family), use(planes), use(job.shaft_file.path()), use(job.shaft_file.text());
  return row;
}

/// The key of a row: its entry, and its place in the lists it stands in.
struct Key {
  RowId job = 0;
  int number = 0;
  std::vector<std::pair<const char*, int>> places = {};

  Key at(const char* list, int place) const {
    Key key = *this;
    key.places.emplace_back(list, place);
    return key;
  }
};

template <typename Thing>
void insert_row(const Log::Database& database, const char* table, const Key& key, Thing thing) {
  Columns columns;
  columns.key("job", key.job);
  columns.key("number", key.number);
  for (const auto& [list, place] : key.places) columns.key(list, place);
  fields(columns, thing);
  columns.insert_into(table, database);
}

template <typename Thing>
void insert_rows(const Log::Database& database, const char* table, const Key& key, const std::vector<Thing>& things,
                 const char* list = "n") {
  int n = 0;
  for (const Thing& thing : things) insert_row(database, table, key.at(list, n++), thing);
}

void insert_finding(const Log::Database& database, const Key& key, const std::optional<Finding>& finding) {
  if (!finding) return;
  insert_row(database, "findings", key, *finding);
  insert_rows(database, "corrections", key, finding->planes);
  insert_rows(database, "verdicts", key, finding->held);
  insert_rows(database, "reasons", key, finding->held_back);
}

void insert_what(const Log::Database& database, const Key& key, const Spun& spun) {
  insert_row(database, "spins", key, spun);
  insert_rows(database, "readings", key, spun.readings);
  for (std::size_t n = 0; n < spun.readings.size(); ++n)
    insert_rows(database, "levels", key.at("n", static_cast<int>(n)), spun.readings[n].level.bands, "band");
  insert_rows(database, "warnings", key, spun.warnings);
  insert_finding(database, key, spun.finding);
}

void insert_what(const Log::Database& database, const Key& key, const Fitted& fitted) {
  insert_rows(database, "pieces", key, fitted.pieces);
}

void insert_what(const Log::Database& /*database*/, const Key& /*key*/, const TakenBack& /*all in the entry*/) {}

void insert_what(const Log::Database& database, const Key& key, const Closed& closed) {
  insert_finding(database, key, closed.finding);
}

void insert_what(const Log::Database& database, const Key& key, const Signed& made) {
  insert_row(database, "signatures", key, made);
}

void insert_what(const Log::Database& database, const Key& key, const Ordered& said) {
  insert_row(database, "orders", key, said);
}

/// Jobs that are read together: a question of the log costs a way to the server and back, so one is asked for all.
struct Wanted {
  std::string rows;  ///< "(3, 17, 18)"
  std::map<RowId, Job> jobs;
};

/// The rows of a table that belong to the wanted jobs, those of a job in order; `row` gets the job.
template <typename Bind, typename Row>
void each_row_of_jobs(soci::session& sql, const std::string& columns, const std::string& table,
                      const std::string& order, Wanted& wanted, Bind bind, Row row) {
  RowId job = 0;
  each_row(
      sql, fmt::format("SELECT job, {} FROM {} WHERE job IN {} ORDER BY {}", columns, table, wanted.rows, order),
      [&](soci::statement& statement) {
        statement.exchange(into(job));
        bind(statement);
      },
      [&] { row(wanted.jobs.at(job)); });
}

/// The things of a table, each to its place in its entry: `store(entry, place in the first list, thing)`.
template <typename Thing, typename Store>
void load_rows(soci::session& sql, const char* table, const std::vector<const char*>& lists, Wanted& wanted,
               Store store) {
  Thing thing;
  Columns columns;
  const int& number = columns.key("number", 0);
  std::vector<const int*> places;
  for (const char* list : lists) places.push_back(&columns.key(list, 0));
  const std::string order = fmt::format("job, number{}{}", lists.empty() ? "" : ", ", fmt::join(lists, ", "));
  fields(columns, thing);
  each_row_of_jobs(
      sql, columns.names(), table, order, wanted, [&](soci::statement& statement) { columns.bind(statement); },
      [&](Job& job) {
        columns.settle();
        store(job.events.at(static_cast<std::size_t>(number - 1)).what, places.empty() ? 0 : *places.front(), thing);
      });
}

std::optional<Finding>& finding_in(What& what) {
  if (auto* closed = std::get_if<Closed>(&what)) return closed->finding;
  return std::get<Spun>(what).finding;
}

What what_of_kind(const std::string& kind, std::optional<int> other, const std::string& reason) {
  if (kind == "spin") return Spun{};
  if (kind == "fit") return Fitted{};
  if (kind == "take back") return TakenBack{other.value_or(0), reason};
  if (kind == "close") return Closed{other, std::nullopt, reason};
  if (kind == "sign") return Signed{};
  if (kind == "order") return Ordered{};
  throw strange("the kind of an entry", kind);
}

void load_entries(soci::session& sql, Wanted& wanted) {
  int number = 0;
  std::string kind;
  long long at = 0;
  std::string program;
  std::optional<int> other;
  std::string reason;
  each_row_of_jobs(
      sql, "number, kind, at_unix_s, program, other, reason", "entries", "job, number", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(kind));
        s.exchange(into(at));
        s.exchange(into(program));
        s.exchange(into(other));
        s.exchange(into(reason));
      },
      [&](Job& job) {
        if (number != static_cast<int>(job.events.size()) + 1)
          throw strange("a job's next entry", std::to_string(number));
        job.events.push_back({number, at, program, what_of_kind(kind, other, reason)});
        const auto* back = std::get_if<TakenBack>(&job.events.back().what);
        if (back != nullptr && (back->number < 1 || back->number >= number))
          throw strange("an entry taken back", std::to_string(back->number));
      });
}

void load_things(soci::session& sql, Wanted& wanted) {
  load_rows<Spun>(sql, "spins", {}, wanted, [](What& what, int, auto& spun) { std::get<Spun>(what) = spun; });
  load_rows<SensorReading>(sql, "readings", {"n"}, wanted,
                           [](What& what, int, auto& reading) { std::get<Spun>(what).readings.push_back(reading); });
  load_rows<NoiseBand>(sql, "levels", {"n", "band"}, wanted, [](What& what, int n, auto& band) {
    std::get<Spun>(what).readings.at(static_cast<std::size_t>(n)).level.bands.push_back(band);
  });
  load_rows<SaidWarning>(sql, "warnings", {"n"}, wanted,
                         [](What& what, int, auto& warning) { std::get<Spun>(what).warnings.push_back(warning); });
  load_rows<FittedWeight>(sql, "pieces", {"n"}, wanted,
                          [](What& what, int, auto& piece) { std::get<Fitted>(what).pieces.push_back(piece); });
  load_rows<Signed>(sql, "signatures", {}, wanted, [](What& what, int, auto& made) { std::get<Signed>(what) = made; });
  load_rows<Ordered>(sql, "orders", {}, wanted, [](What& what, int, auto& said) { std::get<Ordered>(what) = said; });
  load_rows<Finding>(sql, "findings", {}, wanted, [](What& what, int, auto& finding) { finding_in(what) = finding; });
  load_rows<PlaneFinding>(sql, "corrections", {"n"}, wanted,
                          [](What& what, int, auto& plane) { finding_in(what).value().planes.push_back(plane); });
  load_rows<Held>(sql, "verdicts", {"n"}, wanted,
                  [](What& what, int, auto& held) { finding_in(what).value().held.push_back(held); });
  load_rows<SaidReason>(sql, "reasons", {"n"}, wanted,
                        [](What& what, int, auto& reason) { finding_in(what).value().held_back.push_back(reason); });
}

void load_seals(const Log::Database& database, Wanted& wanted) {
  std::string seal;
  const std::string sealed = fmt::format(
      "(SELECT j.id AS job, c.entry, {} AS seal FROM jobs j JOIN chain o ON o.uid = j.uid AND o.uid <> '' JOIN chain c "
      "ON c.opening = o.number) sealed",
      database.unpacked("c.seal"));
  each_row_of_jobs(
      database.sql, "seal", sealed, "job, entry", wanted, [&](soci::statement& s) { s.exchange(into(seal)); },
      [&](Job& job) { job.seal = seal; });
}

}  // namespace

RowId insert_job_row(const Log::Database& database, const Job& job) {
  const RowId rig = rig_row(database.sql, job, job.rig().name);
  const RowId shaft = shaft_row(database.sql, job);
  const long long opened = job.opened_unix_s;
  RowId row = 0;
  database.sql << "INSERT INTO jobs (uid, name, rig, shaft, opened_unix_s, program) VALUES (:uid, :name, :rig, :shaft, "
                  ":opened, :program) RETURNING id",
      into(row), use(job.uid), use(job.name), use(rig), use(shaft), use(opened), use(job.program);
  return row;
}

void insert_event(const Log::Database& database, RowId job, const Event& event) {
  std::optional<int> other;
  std::string reason;
  if (const auto* back = std::get_if<TakenBack>(&event.what)) {
    other = back->number;
    reason = back->reason;
  } else if (const auto* closed = std::get_if<Closed>(&event.what)) {
    other = closed->final_spin;
    reason = closed->reason;
  }
  Columns columns;
  columns.key("job", job);
  columns.key("number", event.number);
  columns.key("kind", std::string(kind_of(event.what)));
  columns.key("at_unix_s", static_cast<long long>(event.at_unix_s));
  columns.key("program", event.program);
  columns.key("other", other);
  columns.key("reason", reason);
  columns.insert_into("entries", database);
  std::visit([&](const auto& what) { insert_what(database, {job, event.number}, what); }, event.what);
}

std::optional<RowId> row_of_job(const Log::Database& database, const std::string& name) {
  RowId row = 0;
  database.sql << "SELECT id FROM jobs WHERE name = :name", into(row), use(name);
  return database.sql.got_data() ? std::optional(row) : std::nullopt;
}

std::vector<Job> load_jobs(const Log::Database& database, const std::vector<RowId>& rows, KeptShafts shafts) {
  if (rows.empty()) return {};
  Wanted wanted{fmt::format("({})", fmt::join(rows, ", ")), {}};
  soci::session& sql = database.sql;
  RowId row = 0;
  Job job;
  long long opened = 0;
  std::pair<std::string, std::string> rig;  // path and text
  std::pair<std::string, std::string> shaft;
  std::map<std::pair<std::string, std::string>, Kept<Rig>> rigs;  // jobs of one rig read its file once for all
  each_row(
      sql,
      fmt::format("SELECT j.id, uid, j.name, opened_unix_s, program, r.file, r.definition, s.file, s.definition FROM "
                  "jobs j JOIN rigs r ON r.id = j.rig JOIN shafts s ON s.id = j.shaft WHERE j.id IN {}",
                  wanted.rows),
      [&](soci::statement& s) {
        s.exchange(into(row));
        s.exchange(into(job.uid));
        s.exchange(into(job.name));
        s.exchange(into(opened));
        for (std::string* text : {&job.program, &rig.first, &rig.second, &shaft.first, &shaft.second})
          s.exchange(into(*text));
      },
      [&] {
        job.opened_unix_s = opened;
        job.rig_file = rigs.try_emplace(rig, rig.first, rig.second).first->second;
        job.shaft_file = shafts.try_emplace(shaft, shaft.first, shaft.second).first->second;
        wanted.jobs[row] = job;
      });
  try {
    load_entries(sql, wanted);
    load_things(sql, wanted);
    load_seals(database, wanted);
  } catch (const UnknownName& unknown) {
    throw strange(unknown.wanted, unknown.text);
  } catch (const nlohmann::json::exception& error) {
    throw strange("a list of names", error.what());
  } catch (const std::out_of_range&) {
    throw belongs_nowhere();
  } catch (const std::bad_variant_access&) {
    throw belongs_nowhere();
  } catch (const std::bad_optional_access&) {
    throw belongs_nowhere();
  }
  std::vector<Job> jobs;
  for (const RowId each : rows) jobs.push_back(std::move(wanted.jobs.at(each)));
  return jobs;
}

Job load_job(const Log::Database& database, RowId row) {
  return std::move(load_jobs(database, {row}).front());
}

JobSummary summary_of(const Job& job) {
  const JobState state = state_of(job.events);
  JobSummary summary;
  summary.spins = static_cast<int>(state.spins.size());
  if (!state.closing) return summary;
  const Event& closing = job.events[static_cast<std::size_t>(*state.closing - 1)];
  summary.closed_unix_s = closing.at_unix_s;
  const auto& finding = std::get<Closed>(closing.what).finding;
  if (!finding) return summary;
  summary.verdict = verdict_name(finding->verdict);
  summary.worst_ratio = finding->worst_ratio();
  return summary;
}

void keep_summary(const Log::Database& database, RowId row, const JobSummary& summary) {
  database.sql << "UPDATE jobs SET closed_unix_s = :closed, verdict = :verdict, worst_ratio = :ratio, spins = :spins "
                  "WHERE id = :row",
      use(summary.closed_unix_s), use(summary.verdict), use(summary.worst_ratio), use(summary.spins), use(row);
}

}  // namespace counterspot
