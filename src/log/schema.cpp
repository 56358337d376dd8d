#include <fmt/format.h>

#include <array>

#include "log/chain.hpp"
#include "log/database.hpp"

namespace counterspot {

namespace {

/// Every step from one version to the next, for ever: an old log is brought up step by step, each in one transaction.
/// `{id}` a row number given by the database; `{by_key}` rows stored in the order of their key; see apply_step.
///
/// Version 1. Quantities are SI, angles rad, times seconds since 1970-01-01 UTC. `job` with `number` is an entry;
/// entries are only added. Beside them each job's row keeps what its entries come to (closed_unix_s, verdict,
/// worst_ratio, spins), so that lists are quick; `Log::check` holds it against the entries.
constexpr const char* version_1[] = {
    "CREATE TABLE schema_version (version INTEGER NOT NULL)",
    "CREATE TABLE rigs ({id}, name TEXT NOT NULL, file TEXT NOT NULL, definition TEXT NOT NULL)",
    "CREATE INDEX rigs_by_name ON rigs (name)",
    "CREATE TABLE shafts ({id}, shaft TEXT NOT NULL, family TEXT NOT NULL, planes INTEGER NOT NULL, file TEXT NOT "
    "NULL, "
    "definition TEXT NOT NULL)",
    "CREATE INDEX shafts_by_name ON shafts (shaft)",
    "CREATE TABLE jobs ({id}, uid TEXT NOT NULL UNIQUE, name TEXT NOT NULL UNIQUE, "
    "rig BIGINT NOT NULL REFERENCES rigs (id), shaft BIGINT NOT NULL REFERENCES shafts (id), "
    "opened_unix_s BIGINT NOT NULL, program TEXT NOT NULL, "
    "closed_unix_s BIGINT, verdict TEXT NOT NULL DEFAULT '', worst_ratio DOUBLE PRECISION, spins INTEGER NOT NULL "
    "DEFAULT 0)",
    "CREATE INDEX jobs_by_shaft ON jobs (shaft)", "CREATE INDEX jobs_by_rig ON jobs (rig)",
    "CREATE INDEX jobs_by_time ON jobs (opened_unix_s)",
    // kind: spin, fit, take back, close, sign, order. other: the entry taken back, or the final spin.
    "CREATE TABLE entries (job BIGINT NOT NULL REFERENCES jobs (id), number INTEGER NOT NULL, kind TEXT NOT NULL, "
    "at_unix_s BIGINT NOT NULL, program TEXT NOT NULL, other INTEGER, reason TEXT NOT NULL, PRIMARY KEY (job, number)) "
    "{by_key}",
    "CREATE TABLE spins (job BIGINT NOT NULL, number INTEGER NOT NULL, label TEXT NOT NULL, "
    "speed_rad_s DOUBLE PRECISION, speed_drift_fraction DOUBLE PRECISION NOT NULL, revolutions BIGINT NOT NULL, "
    "duration_s DOUBLE PRECISION NOT NULL, recording TEXT NOT NULL, sha256 TEXT NOT NULL, PRIMARY KEY (job, number), "
    "FOREIGN KEY (job, number) REFERENCES entries (job, number)) {by_key}",
    // value_re + j value_im: A e^{+j phase lag}, peak; motion: acceleration, velocity, displacement.
    "CREATE TABLE readings (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, sensor TEXT NOT NULL, "
    "motion TEXT NOT NULL, value_re DOUBLE PRECISION NOT NULL, value_im DOUBLE PRECISION NOT NULL, "
    "var_re DOUBLE PRECISION NOT NULL, cov_re_im DOUBLE PRECISION NOT NULL, var_im DOUBLE PRECISION NOT NULL, "
    "PRIMARY KEY (job, number, n), FOREIGN KEY (job, number) REFERENCES spins (job, number)) {by_key}",
    "CREATE TABLE warnings (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, code TEXT NOT NULL, "
    "sensor TEXT NOT NULL, message TEXT NOT NULL, PRIMARY KEY (job, number, n), "
    "FOREIGN KEY (job, number) REFERENCES spins (job, number)) {by_key}",
    // All pieces on the shaft from this entry on; plane counts from 0 in the shaft's definition.
    "CREATE TABLE pieces (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, plane INTEGER NOT NULL, "
    "mass_kg DOUBLE PRECISION NOT NULL, radius_m DOUBLE PRECISION NOT NULL, angle_rad DOUBLE PRECISION NOT NULL, "
    "PRIMARY KEY (job, number, n), FOREIGN KEY (job, number) REFERENCES entries (job, number)) {by_key}",
    "CREATE TABLE findings (job BIGINT NOT NULL, number INTEGER NOT NULL, verdict TEXT NOT NULL, "
    "used_prior INTEGER NOT NULL, PRIMARY KEY (job, number), "
    "FOREIGN KEY (job, number) REFERENCES entries (job, number)) {by_key}",
    "CREATE TABLE corrections (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, plane TEXT NOT NULL, "
    "residual_re_kg_m DOUBLE PRECISION NOT NULL, residual_im_kg_m DOUBLE PRECISION NOT NULL, "
    "var_re DOUBLE PRECISION NOT NULL, cov_re_im DOUBLE PRECISION NOT NULL, var_im DOUBLE PRECISION NOT NULL, "
    "mass_kg DOUBLE PRECISION NOT NULL, radius_m DOUBLE PRECISION NOT NULL, angle_rad DOUBLE PRECISION NOT NULL, "
    "predicted_residual_kg_m DOUBLE PRECISION NOT NULL, PRIMARY KEY (job, number, n), "
    "FOREIGN KEY (job, number) REFERENCES findings (job, number)) {by_key}",
    "CREATE TABLE verdicts (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, place TEXT NOT NULL, "
    "residual_kg_m DOUBLE PRECISION NOT NULL, u_residual_kg_m DOUBLE PRECISION NOT NULL, "
    "limit_kg_m DOUBLE PRECISION NOT NULL, verdict TEXT NOT NULL, PRIMARY KEY (job, number, n), "
    "FOREIGN KEY (job, number) REFERENCES findings (job, number)) {by_key}",
    "INSERT INTO schema_version (version) VALUES (0)"};

/// Version 2: what is known of a rig beside its jobs (RigRecord); `details` is JSON.
constexpr const char* version_2[] = {
    "CREATE TABLE rig_records ({id}, rig TEXT NOT NULL, kind TEXT NOT NULL, at_unix_s BIGINT NOT NULL, "
    "program TEXT NOT NULL, details TEXT NOT NULL)",
    "CREATE INDEX rig_records_by_rig ON rig_records (rig, kind)"};

/// Version 3: how the shaft of a spin stood to its adapters; NULL: not said.
constexpr const char* version_3[] = {"ALTER TABLE spins ADD COLUMN turned_rad DOUBLE PRECISION"};

/// Version 4: what held a verdict back (`spins` and `sensors` are JSON lists of names), and what a sensor showed beside
/// the orders (SensorLevel; NULL or no row: not known).
constexpr const char* version_4[] = {
    "CREATE TABLE reasons (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, code TEXT NOT NULL, "
    "message TEXT NOT NULL, remedy TEXT NOT NULL, spins TEXT NOT NULL, sensors TEXT NOT NULL, "
    "PRIMARY KEY (job, number, n), FOREIGN KEY (job, number) REFERENCES findings (job, number)) {by_key}",
    "ALTER TABLE readings ADD COLUMN step DOUBLE PRECISION",
    "CREATE TABLE levels (job BIGINT NOT NULL, number INTEGER NOT NULL, n INTEGER NOT NULL, band INTEGER NOT NULL, "
    "from_Hz DOUBLE PRECISION NOT NULL, to_Hz DOUBLE PRECISION NOT NULL, rms DOUBLE PRECISION NOT NULL, "
    "u_fraction DOUBLE PRECISION NOT NULL, PRIMARY KEY (job, number, n, band), "
    "FOREIGN KEY (job, number, n) REFERENCES readings (job, number, n)) {by_key}"};

/// Version 5: what the jobs on a rig taught of it, so that it need not be learnt anew at each question. `learnt_from`
/// says what from; `kept` counts, the last kept highest. No evidence, and neither exported nor backed up.
constexpr const char* version_5[] = {
    "CREATE TABLE learnt (rig TEXT NOT NULL, learnt_from TEXT NOT NULL, kept BIGINT NOT NULL, state TEXT NOT NULL, "
    "PRIMARY KEY (rig, learnt_from))"};

/// Version 6: by how many earlier shafts the rig had been taught what foretold a finding's coefficients, and how many
/// of them another log had told of; NULL: the rig had no part in it.
constexpr const char* version_6[] = {"ALTER TABLE findings ADD COLUMN rig_taught_by INTEGER",
                                     "ALTER TABLE findings ADD COLUMN brought_in INTEGER"};

/// Version 7: the chain of seals (chain.hpp). No row of it is ever changed.
constexpr const char* version_7[] = {
    "CREATE TABLE chain (number BIGINT PRIMARY KEY, uid TEXT NOT NULL, name TEXT NOT NULL, entry INTEGER NOT NULL, "
    "seal TEXT NOT NULL, link TEXT NOT NULL)",
    "CREATE INDEX chain_by_job ON chain (uid, entry)"};
constexpr int first_with_chain = 7;

/// Version 8: who signed a job (signature.hpp); keys and signatures in hexadecimal digits.
constexpr const char* version_8[] = {
    "CREATE TABLE signatures (job BIGINT NOT NULL, number INTEGER NOT NULL, signed_by TEXT NOT NULL, "
    "public_key TEXT NOT NULL, signature TEXT NOT NULL, PRIMARY KEY (job, number), "
    "FOREIGN KEY (job, number) REFERENCES entries (job, number)) {by_key}"};

/// Version 9: in the chain a job's uid stands once, at its opening, whose number the links of its entries have; SQLite
/// keeps seals and links as bytes. What was altered stays so: such a link still does not follow from the one before.
constexpr const char* version_9[] = {
    "CREATE TABLE shorter_chain (number {whole} PRIMARY KEY, opening BIGINT, uid TEXT NOT NULL, name TEXT NOT NULL, "
    "entry INTEGER NOT NULL, seal {bytes} NOT NULL, link {bytes} NOT NULL)",
    "INSERT INTO shorter_chain SELECT c.number, o.number, CASE WHEN c.number = coalesce(o.number, c.number) THEN c.uid "
    "ELSE '' END, c.name, c.entry, {packed seal}, {packed link} FROM chain c LEFT JOIN (SELECT uid, min(number) AS "
    "number FROM chain WHERE entry = 0 AND uid <> '' GROUP BY uid) o ON o.uid = c.uid ORDER BY c.number",
    "DROP TABLE chain",
    "ALTER TABLE shorter_chain RENAME TO chain",
    "CREATE INDEX chain_by_opening ON chain (opening, entry)",
    "CREATE INDEX chain_by_job ON chain (uid) WHERE uid <> ''"};

/// Version 10: what was said of a job's order after its opening; what is empty was not spoken of.
constexpr const char* version_10[] = {
    "CREATE TABLE orders (job BIGINT NOT NULL, number INTEGER NOT NULL, customer TEXT NOT NULL, order_number TEXT NOT "
    "NULL, part TEXT NOT NULL, serial TEXT NOT NULL, shop TEXT NOT NULL, balanced_by TEXT NOT NULL, inspected_by TEXT "
    "NOT NULL, fixed_by TEXT NOT NULL, limits_by TEXT NOT NULL, PRIMARY KEY (job, number), "
    "FOREIGN KEY (job, number) REFERENCES entries (job, number)) {by_key}"};

struct Step {
  const char* const* statements;
  std::size_t count;
};
constexpr std::array steps = {Step{version_1, std::size(version_1)}, Step{version_2, std::size(version_2)},
                              Step{version_3, std::size(version_3)}, Step{version_4, std::size(version_4)},
                              Step{version_5, std::size(version_5)}, Step{version_6, std::size(version_6)},
                              Step{version_7, std::size(version_7)}, Step{version_8, std::size(version_8)},
                              Step{version_9, std::size(version_9)}, Step{version_10, std::size(version_10)}};
constexpr int schema_version = static_cast<int>(steps.size());

/// 0: an empty database.
int version_of(const Log::Database& database) {
  int tables = 0;
  const char* count = database.sqlite ? "SELECT count(*) FROM sqlite_master WHERE type = 'table'"
                                      : "SELECT count(*) FROM information_schema.tables WHERE table_schema = "
                                        "current_schema()";
  database.sql << count, soci::into(tables);
  if (tables == 0) return 0;
  try {
    int version = 0;
    database.sql << "SELECT version FROM schema_version", soci::into(version);
    if (version > 0) return version;
  } catch (const soci::soci_error&) {  // NOLINT(bugprone-empty-catch): no such table, so no log
  }
  throw Error(Trouble::request, "not_a_log",
              fmt::format("{}: this database holds something that is not a log", database.place),
              "name an empty database, or the log's own");
}

std::string replaced(std::string text, const std::string& what, const std::string& with) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what)) text.replace(at, what.size(), with);
  return text;
}

void apply_step(const Log::Database& database, int from) {
  const Step& step = steps[static_cast<std::size_t>(from)];
  const bool sqlite = database.sqlite;
  const std::pair<std::string, std::string> differ[] = {
      {"{id}", sqlite ? "id INTEGER PRIMARY KEY" : "id BIGINT GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY"},
      {"{by_key}", sqlite ? "WITHOUT ROWID" : ""},
      {"{whole}", sqlite ? "INTEGER" : "BIGINT"},  // SQLite then keeps no index for it
      {"{bytes}", sqlite ? "BLOB" : "TEXT"},
      {"{packed seal}", sqlite ? "coalesce(packed(c.seal), x'')" : "c.seal"},
      {"{packed link}", sqlite ? "coalesce(packed(c.link), x'')" : "c.link"}};
  for (std::size_t i = 0; i < step.count; ++i) {
    std::string statement = step.statements[i];
    for (const auto& [what, with] : differ) statement = replaced(std::move(statement), what, with);
    database.sql << statement;
  }
  database.sql << "UPDATE schema_version SET version = " << from + 1;
}

void refuse_if_too_new(const Log::Database& database, int version) {
  if (version <= schema_version) return;
  throw Error(Trouble::request, "log_too_new",
              fmt::format("{}: this log has version {}, and this program knows versions up to {}", database.place,
                          version, schema_version),
              "use the newer program that wrote it; this one has changed nothing");
}

}  // namespace

void refuse_other_schema(const Log::Database& database) {
  const int version = version_of(database);
  refuse_if_too_new(database, version);
  if (version == schema_version) return;
  throw Error(
      Trouble::request, "log_too_old",
      fmt::format("{}: this log has version {}, and cannot be brought to version {} because it cannot be written",
                  database.place, version, schema_version),
      "copy it to where you may write, and name the copy");
}

void bring_to_present_schema(const Log::Database& database, bool create, const SealingProgress& sealing) {
  int version = version_of(database);
  refuse_if_too_new(database, version);
  if (version == schema_version) return;
  if (version == 0 && !create) {
    throw Error(Trouble::request, "no_log", fmt::format("{}: there is no log in this database yet", database.place),
                "name another one with --log; the first 'job open' or 'rig qualify' makes a new log");
  }
  database.writing([&] {
    version = version_of(database);  // another program may have been quicker
    refuse_if_too_new(database, version);
    const bool begins = version < first_with_chain;
    for (; version < schema_version; ++version) apply_step(database, version);
    if (begins) begin_chain(database, sealing);
  });
}

}  // namespace counterspot
