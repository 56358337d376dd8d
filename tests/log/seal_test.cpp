// What was changed behind the log's back is found, by the seals of entries and the chain of the log.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>

#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "counterspot/sheet/verify.hpp"
#include "counterspot/units/error.hpp"
#include "databases.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";

/// Two jobs with everything in them that an entry can hold, and records of a rig.
void fill(Log& log) {
  whole_job(log, opening_of());
  Job job = log.open_job(opening_of("PS-2", some_day + 86400));
  Spun spun = spin_of("as found");
  spun.readings[0].level.step = 0.01;
  spun.readings[0].level.bands = {{10.0, 20.0, 0.02, 0.1}};
  spun.finding = finding_within(1.5);
  spun.finding->verdict = spun.finding->held.front().verdict = Verdict::outside;
  spun.finding->held_back = {{"noisy", "sensor A is noisy", "look at its cable", {"as found"}, {"A"}}};
  job = log.append(job, spun, program, some_day + 86400);
  log.append(job, TakenBack{1, "another shaft"}, program, some_day + 86460);
  log.keep({"bay 2", "adapters", some_day, program, "{\"version\":1}"});
  log.keep({"bay 2", "adapters", some_day + 60, program, "{\"version\":2}"});
}

void fill_and_sign(Log& log) {
  fill(log);
  const WorkOrder order{"Marrow Creek", "45001",   "MC-0417", "22",          "bay 2",
                        "K. Osei",      "R. Feld", "welded",  "drawing 4711"};
  const Job job = log.append(log.job("PS-1042/1"), Ordered{order}, program, some_day + 500);
  log.append(job, signed_with(new_signing_key("A. Fenn"), job.seal, some_day + 600), program, some_day + 600);
}

std::string exported(const Log& log) {
  std::string text;
  log.for_each_job({}, [&](const Job& job) { text += job_to_json_line(job) + "\n"; });
  for (const RigRecord& record : log.rig_records("", "")) text += rig_record_to_json_line(record) + "\n";
  return text;
}

/// What a reader of the log is shown, or nothing if he is told that it is damaged.
std::optional<std::string> shown(const std::string& place) {
  try {
    return exported(Log::open(place, false));
  } catch (const Error&) {
    return std::nullopt;
  }
}

bool is_found(const std::string& place) {
  try {
    return !Log::open(place, false).check().faults.empty();
  } catch (const Error&) {
    return true;
  }
}

/// "table|column|type" of all that counts as evidence.
std::vector<std::string> columns_of(const std::string& place, Kind kind) {
  const std::string left_out = "('learnt', 'schema_version')";
  if (kind == Kind::postgresql)
    return rows_of_sql(place,
                       "SELECT table_name, column_name, data_type FROM information_schema.columns WHERE "
                       "table_schema = current_schema() AND table_name NOT IN " +
                           left_out);
  return rows_of_sql(place,
                     "SELECT m.name, c.name, lower(c.type) FROM sqlite_master m JOIN pragma_table_info(m.name) c "
                     "WHERE m.type = 'table' AND m.name NOT IN " +
                         left_out);
}

struct Column {
  std::string table, name, type;
  explicit Column(const std::string& row) {
    std::istringstream parts(row);
    for (std::string* part : {&table, &name, &type}) std::getline(parts, *part, '|');
  }
  /// A value that is a little other, in every row.
  std::string change() const {
    const std::string other = type == "text"               ? name + " || ' '"
                              : type == "double precision" ? "coalesce(" + name + ", 0) * 1.0000001 + 1e-12"
                                                           : "coalesce(" + name + ", 0) + 1000";
    return "UPDATE " + table + " SET " + name + " = " + other;
  }
};

}  // namespace

TEST_CASE("a change of any column of any table that changes what is exported is found") {
  const TemporaryFolder folder;
  const Place place(Kind::sqlite);
  {
    Log log = Log::open(place.text(), true);
    fill_and_sign(log);
    REQUIRE(log.check().faults.empty());
  }
  run_sql(place.text(), "PRAGMA wal_checkpoint(TRUNCATE)");
  const auto before = shown(place.text());
  const auto columns = columns_of(place.text(), Kind::sqlite);
  REQUIRE(columns.size() > 80);
  int changed = 0;
  for (const std::string& row : columns) {
    const Column column(row);
    CAPTURE(row);
    const std::string copy = (folder / "changed.db").string();
    std::filesystem::copy_file(place.text(), copy, std::filesystem::copy_options::overwrite_existing);
    run_sql(copy, column.change());
    if (shown(copy) != before || column.table == "chain") {
      ++changed;
      CHECK(is_found(copy));
    }
    for (const char* beside : {"-wal", "-shm"}) std::filesystem::remove(copy + beside);
  }
  CHECK(changed > 70);
}

TEST_CASE("200 changes by SQL in a log on PostgreSQL are found where they change what is exported") {
  const Place place(Kind::postgresql);
  {
    Log log = Log::open(place.text(), true);
    fill_and_sign(log);
  }
  const auto before = shown(place.text());
  const auto columns = columns_of(place.text(), Kind::postgresql);
  // Without the keys' own checks, as somebody would who owns the server; and put back again.
  const std::string unchecked = "SET session_replication_role = replica; ";
  std::mt19937_64 numbers(1);  // the numbers of std::mt19937_64 are set down in the C++ standard
  int changed = 0;
  for (std::size_t i = 0; i < 200; ++i) {
    const Column column(columns[i % columns.size()]);
    CAPTURE(columns[i % columns.size()], i);
    const std::string& table = column.table;
    run_sql(place.text(), "CREATE TABLE kept_" + table + " AS SELECT * FROM " + table);
    // Once round through all columns, then one row of each.
    const std::string only = i < columns.size() ? ""
                                                : " WHERE ctid = (SELECT ctid FROM " + table + " OFFSET " +
                                                      std::to_string(numbers() % 2) + " LIMIT 1)";
    run_sql(place.text(), unchecked + column.change() + only);
    if (shown(place.text()) != before) {
      ++changed;
      CHECK(is_found(place.text()));
    }
    run_sql(place.text(), unchecked + "DELETE FROM " + table + "; INSERT INTO " + table + " SELECT * FROM kept_" +
                              table + "; DROP TABLE kept_" + table);
  }
  CHECK(changed > 120);
  CHECK(shown(place.text()) == before);
  CHECK_FALSE(is_found(place.text()));
}

TEST_CASE("of a thousand single bytes changed in a log's file, each that changes what is exported is found") {
  const TemporaryFolder folder;
  const std::string place = (folder / "log.db").string();
  {
    Log log = Log::open(place, true);
    fill_and_sign(log);
  }
  run_sql(place, "PRAGMA wal_checkpoint(TRUNCATE)");
  const auto before = shown(place);
  const std::string bytes = read_file(place);
  std::mt19937_64 numbers(20251125);
  int changed = 0;
  for (int i = 0; i < 1000; ++i) {
    std::string damaged = bytes;
    const std::size_t at = numbers() % bytes.size();
    damaged[at] = static_cast<char>(damaged[at] ^ static_cast<char>(1 + numbers() % 255));
    CAPTURE(i, at);
    const std::string copy = (folder / "damaged.db").string();
    std::ofstream(copy, std::ios::binary | std::ios::trunc) << damaged;
    if (shown(copy) != before) {
      ++changed;
      CHECK(is_found(copy));
    }
    for (const char* beside : {"-wal", "-shm", "-journal"}) std::filesystem::remove(copy + beside);
  }
  CHECK(changed > 50);  // most of the file is room that is not in use
}

TEST_CASE("a verdict changed by hand is named with its entry, and the job no longer shows one") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  const Place place(kind);
  Log log = Log::open(place.text(), true);
  fill(log);
  run_sql(place.text(), "UPDATE verdicts SET residual_kg_m = residual_kg_m / 2 WHERE number = 6");
  const CheckReport report = log.check();
  REQUIRE(report.faults.size() == 2);  // also what is kept beside the entries
  CHECK(report.faults[1] == "job PS-1042/1: entry 6 is not what was kept: it was changed later");
  CHECK(code_of([&] { log.job("PS-1042/1"); }) == "log_altered");
  CHECK(log.job("PS-2/1").events.size() == 2);
}

TEST_CASE("nothing is added to a job whose entries were changed, so it is never closed within") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log log = Log::open(place.text(), true);
  Job job = log.open_job(opening_of());
  job = log.append(job, spin_of("as found"), program, some_day);
  run_sql(place.text(), "UPDATE readings SET value_re = value_re / 10");
  CHECK(code_of([&] { log.append(job, Closed{1, finding_within(), ""}, program, some_day); }) == "log_altered");
}

TEST_CASE("a job, its last entry, a record of a rig or links that were taken out are missed") {
  const auto faults_after = [](const std::string& statement) {
    const Place place(Kind::sqlite);
    Log log = Log::open(place.text(), true);
    fill(log);
    run_sql(place.text(), statement);
    return log.check().faults;
  };
  std::string whole_job;
  for (const char* table : {"corrections", "verdicts", "reasons", "findings", "pieces", "warnings", "levels",
                            "readings", "spins", "entries"})
    whole_job += "DELETE FROM " + std::string(table) + " WHERE job = 1; ";
  whole_job += "DELETE FROM jobs WHERE id = 1; ";
  CHECK(faults_after(whole_job) == std::vector<std::string>{"job PS-1042/1 is gone, with 6 entries"});
  CHECK(faults_after(
            whole_job +
            "DELETE FROM chain WHERE opening NOT IN (SELECT c.number FROM chain c JOIN jobs j ON j.uid = c.uid)") ==
        std::vector<std::string>{"the log's chain is broken at link 2: links were changed, taken out or put in"});
  CHECK(faults_after("DELETE FROM entries WHERE job = 2 AND number = 2; UPDATE jobs SET spins = 1 WHERE id = 2") ==
        std::vector<std::string>{"job PS-2/1: entry 2 is gone"});
  CHECK(faults_after("DELETE FROM rig_records WHERE at_unix_s > 1764072000") ==
        std::vector<std::string>{"rig bay 2: a record that was kept is gone, or is one of those that were changed"});
  CHECK(faults_after("DELETE FROM chain").size() > 2);
  CHECK(faults_after("UPDATE jobs SET name = 'PS-1042/7' WHERE id = 1").front() ==
        "job PS-1042/7: it was opened as PS-1042/1");
}

TEST_CASE("what was altered in a chain is found also when a newer version has brought the log up") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  for (const char* statement :
       {"UPDATE chain SET seal = '3' || seal WHERE number = 5", "UPDATE chain SET link = 'odd' WHERE number = 5",
        "UPDATE chain SET entry = entry + 1 WHERE number = 5", "UPDATE chain SET uid = 'odd' WHERE number = 2",
        "UPDATE chain SET uid = 'odd' WHERE number = 5", "DELETE FROM chain WHERE number = 2",
        "DELETE FROM chain WHERE number = 5", "UPDATE chain SET number = 500 WHERE number = 5"}) {
    CAPTURE(statement);
    const Place old(kind);
    load_sql(old.text(), source_file(std::string("tests/log/versions/8.") +
                                     (kind == Kind::sqlite ? "sqlite.sql" : "postgresql.sql")));
    run_sql(old.text(), statement);
    CHECK_FALSE(Log::open(old.text(), false).check().faults.empty());
  }
}

TEST_CASE("an export that was changed is not imported, and says so before") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  fill(log);
  const std::string line = job_to_json_line(log.job("PS-1042/1"));
  std::string forged = line;
  const std::string outside = "\"limit_kg_m\":0.000348";
  REQUIRE(forged.find(outside) != std::string::npos);
  forged.replace(forged.find(outside), outside.size(), "\"limit_kg_m\":0.000349");
  const Place other(GENERATE(Kind::sqlite, Kind::postgresql));
  Log copy = Log::open(other.text(), true);
  CHECK(code_of([&] { copy.import_job(job_of_json_line(forged)); }) == "seal_broken");
  CHECK(verified_export(forged, {}).front().faults.size() == 1);
  CHECK(verified_export(line, {}).front().faults.empty());
  CHECK(copy.import_job(job_of_json_line(line)) == 6);
  CHECK(copy.job("PS-1042/1").seal == log.job("PS-1042/1").seal);  // the same in every log
}

TEST_CASE(
    "an import that says 'within' of a residual over its limit, or whose work on a rig does not hold together, is not "
    "taken") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  fill(log);
  Exported exported{{log.job("PS-1042/1")}, {}};
  Job& job = exported.jobs.front();
  std::get<Closed>(job.events.back().what).finding->held.front().residual_kg_m = 1.0;
  job.seal = seal_of(job);  // whoever forges it may know how to seal
  const Place other(Kind::sqlite);
  Log copy = Log::open(other.text(), true);
  CHECK(code_of([&] { copy.import_all(exported); }) == "bad_finding");
  exported.jobs = {log.job("PS-2/1")};
  exported.rig_records = {{"bay 2", "qualification", some_day, program, "{\"uid\":\"x\"}"}};
  CHECK(code_of([&] { copy.import_all(exported); }) != "");
  CHECK(copy.list().empty());
  CHECK(copy.rig_records("", "").empty());
}

TEST_CASE("a job that was altered can be ended with a reason, and stays named") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log log = Log::open(place.text(), true);
  const Job job = log.append(log.open_job(opening_of()), spin_of("as found"), program, some_day);
  CHECK_FALSE(log.close_altered(job.name, "the tube is dented", program, some_day));
  run_sql(place.text(), "UPDATE readings SET value_re = value_re / 10");
  CHECK(code_of([&] { log.close_altered(job.name, "", program, some_day); }) == "no_reason");
  REQUIRE(log.close_altered(job.name, "its record was altered", program, some_day));
  const JobOverview line = log.list().front();
  CHECK(line.closed_unix_s == some_day);
  CHECK_FALSE(line.verdict);
  CHECK(log.check().faults ==
        std::vector<std::string>{"job PS-1042/1: entry 1 is not what was kept: it was changed later"});
  CHECK(code_of([&] { log.job(job.name); }) == "log_altered");
}

TEST_CASE("a shaft whose open job was altered, or cannot be read, is begun anew in another job") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log log = Log::open(place.text(), true);
  log.append(log.open_job(opening_of()), spin_of("as found"), program, some_day);
  CHECK(code_of([&] { log.open_job(opening_of()); }) == "job_open");
  run_sql(place.text(), "UPDATE readings SET value_re = value_re / 10");
  CHECK(log.open_job(opening_of()).name == "PS-1042/2");
  CHECK(code_of([&] { log.open_job(opening_of()); }) == "job_open");
  run_sql(place.text(), "UPDATE jobs SET program = 'another' WHERE name = 'PS-1042/2'");
  CHECK(log.open_job(opening_of()).name == "PS-1042/3");
}

TEST_CASE("a code is found in an export of many jobs, and one that is nowhere is said once") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  fill(log);
  const std::string both = exported(log);
  const std::string code = seal_code(log.job("PS-2/1").seal);
  const auto found = verified_export(both, {code, "", ""});
  REQUIRE(found.size() == 1);
  CHECK(found.front().job == "PS-2/1");
  CHECK(found.front().entry_of_code == 2);
  CHECK(found.front().faults.empty());
  CHECK(verified_export(both, {}).size() == 2);
  const auto nowhere = verified_export(both, {std::string(24, '0'), "", ""});
  REQUIRE(nowhere.size() == 1);
  CHECK(nowhere.front().faults.size() == 1);
  CHECK(verified_job("PS-1042/1", log, {std::string(24, '0'), "", ""}).faults.size() == 1);
  CHECK(verified_job("PS-2/1", log, {code, "", ""}).faults.empty());
  CHECK(code_of([&] { verified_export("", {}); }) == "nothing_to_verify");
  CHECK(code_of([&] { verified_export(rig_record_to_json_line(log.rig_records("", "").front()), {}); }) ==
        "nothing_to_verify");
  CHECK(code_of([&] { verified_export(both, {"PS-2/1", "", ""}); }) == "bad_seal_code");
}

TEST_CASE("each value of a sheet that the log does not have is named") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  fill(log);
  const std::string sheet = sheet_json(sheet_of(log, "PS-1042/1"));
  CHECK(verified_sheet(sheet, log, {}).faults.empty());
  CHECK(verified_sheet(sheet_json(sheet_of(log, "PS-1042/1", UnitSystem::inch)), log, {}).faults.empty());
  const auto with = [&](const std::string& what, const std::string& instead) {
    std::string forged = sheet;
    REQUIRE(forged.find(what) != std::string::npos);
    return verified_sheet(forged.replace(forged.find(what), what.size(), instead), log, {}).faults;
  };
  CHECK(with("\"verdict\":\"within\"", "\"verdict\":\"outside\"") ==
        std::vector<std::string>{"at /verdict the sheet says \"outside\", and the record \"within\""});
  CHECK(with("\"entries\":6", "\"entries\":7").size() == 1);
  CHECK(with("\"entries\":6", "\"entries\":5").size() > 1);
  for (const std::string& other :
       {std::string("{}"), std::string("[]"), std::string("{\"job\":1,\"seal\":\"\",\"places\":[]}")})
    CHECK(code_of([&] { verified_sheet(other, log, {}); }) == "bad_sheet");
}

TEST_CASE("a log from before there were seals opens though one of its jobs cannot be read, and that one is named") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  {
    Log log = Log::open(place.text(), true);
    fill(log);
  }
  run_sql(place.text(),
          "DROP TABLE chain; DROP TABLE signatures; DROP TABLE orders; UPDATE schema_version SET version = 6; UPDATE "
          "entries SET kind = "
          "'odd' WHERE "
          "job = 1 AND number = 3");
  Log log = Log::open(place.text(), false);
  CHECK(log.job("PS-2/1").events.size() == 2);
  CHECK(code_of([&] { log.job("PS-1042/1"); }) == "log_damaged");
  const CheckReport report = log.check();
  REQUIRE(report.faults.size() == 1);
  CHECK(report.faults.front().starts_with("job PS-1042/1: the log has 'odd' where the kind of an entry should stand"));
}

TEST_CASE("while an older log is sealed it is told how far that is, to the end; of one that is sealed nothing") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  {
    Log log = Log::open(place.text(), true);
    fill(log);
  }
  run_sql(place.text(),
          "DROP TABLE chain; DROP TABLE signatures; DROP TABLE orders; UPDATE schema_version SET version = 6");
  std::vector<std::pair<std::int64_t, std::int64_t>> told;
  const auto listen = [&](std::int64_t done, std::int64_t all) { told.emplace_back(done, all); };
  const CheckReport report = Log::open(place.text(), false, listen).check();
  CHECK(report.faults.empty());
  REQUIRE_FALSE(told.empty());
  CHECK(std::is_sorted(told.begin(), told.end()));
  CHECK(told.back() == std::pair(report.sealed_later, report.sealed_later));
  told.clear();
  Log::open_to_read(place.text(), listen);
  CHECK(told.empty());
}

TEST_CASE("a log written anew as a whole is sound in itself, and no longer has the codes that stand on sheets") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  fill(log);
  const Job job = log.job("PS-2/1");
  const std::string seal = seal_code(job.seal);
  const std::string seal_of_other = seal_code(log.job("PS-1042/1").seal);
  const std::string link = seal_code(log.links_of(job).back().sha256);
  CHECK(entry_of_code(job, {}, seal) == 2);
  CHECK(entry_of_code(job, log.links_of(job), link) == 2);

  // The first job's residual made small, and all sealed again by who owns the file.
  run_sql(place.text(),
          "UPDATE verdicts SET residual_kg_m = residual_kg_m / 2; UPDATE jobs SET worst_ratio = worst_ratio "
          "/ 2 WHERE id = 1; DROP TABLE chain; DROP TABLE signatures; DROP TABLE orders; UPDATE schema_version SET "
          "version = 6");
  const Log forged = Log::open(place.text(), false);
  CHECK(forged.check().faults.empty());
  const Job same = forged.job("PS-2/1");
  CHECK_FALSE(entry_of_code(forged.job("PS-1042/1"), {}, seal_of_other).has_value());
  CHECK_FALSE(entry_of_code(same, forged.links_of(same), link).has_value());
}
