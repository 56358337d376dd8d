#include "log/database.hpp"

#include <fmt/format.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <algorithm>
#include <cctype>
#include <filesystem>

namespace counterspot {

namespace {

constexpr int seconds_to_wait_for_another_program = 60;

Error machine(std::string code, const std::string& sentence, std::string remedy) {
  return {Trouble::machine, std::move(code), sentence, std::move(remedy)};
}

Error translated(int sqlite_result, const std::string& words, const std::string& place) {
  switch (sqlite_result & 0xff) {
    case SQLITE_FULL:
      return machine("log_full", fmt::format("{}: the disk is full; what was in the log before is safe", place),
                     "free some space and enter the last step again");
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
      return machine("log_read_only", fmt::format("{}: the log or its folder cannot be written", place),
                     "give yourself the right to write there, or choose another log with --log");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return machine("log_busy",
                     fmt::format("{}: another program kept the log for more than {} s", place,
                                 seconds_to_wait_for_another_program),
                     "end that program, then enter the last step again");
    case SQLITE_CORRUPT:
      return machine("log_damaged", fmt::format("{}: the log is damaged: {}", place, words),
                     "keep the file as it is, and restore the last backup to another one with 'log restore'");
    case SQLITE_NOTADB:
      return {Trouble::request, "not_a_log", fmt::format("{}: this file is not a log", place),
              "name the log's file, or another one that does not exist yet"};
    case SQLITE_IOERR:
      return machine("log_failed",
                     fmt::format("{}: the disk did not take or give data ({}); what was in the log before "
                                 "is safe",
                                 place, words),
                     "check the disk and the space on it, then enter the last step again");
    default:
      return machine("log_failed", fmt::format("{}: the log failed: {}", place, words),
                     "run 'log check' and look at the disk");
  }
}

std::string in_quotes(const std::string& path) {
  if (path.find('"') != std::string::npos) {
    throw Error(Trouble::request, "bad_path", fmt::format("{}: the log's path has a quotation mark in it", path),
                "choose a path without one");
  }
  return "\"" + path + "\"";
}

int digit_of(unsigned char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

/// SQLite's own is of version 3.41. NULL for what is no row of pairs of digits.
void pack(sqlite_api::sqlite3_context* context, int /*count*/, sqlite_api::sqlite3_value** values) {
  using namespace sqlite_api;
  const unsigned char* digits = sqlite3_value_text(*values);
  const int size = sqlite3_value_bytes(*values);
  if (size % 2 != 0) return;
  std::string bytes;
  for (int i = 0; i < size; i += 2) {
    const int high = digit_of(digits[i]);
    const int low = digit_of(digits[i + 1]);
    if (high < 0 || low < 0) return;
    bytes += static_cast<char>(16 * high + low);
  }
  sqlite3_result_blob(context, bytes.data(), static_cast<int>(bytes.size()), SQLITE_TRANSIENT);
}

void add_functions(soci::session& sql) {
  auto* const connection = static_cast<soci::sqlite3_session_backend*>(sql.get_backend())->conn_;
  sqlite_api::sqlite3_create_function(connection, "packed", 1, SQLITE_UTF8 | SQLITE_DETERMINISTIC, nullptr, pack,
                                      nullptr, nullptr);
}

void open_sqlite(Log::Database& database, bool create) {
  namespace fs = std::filesystem;
  std::error_code ignored;
  if (!create && !fs::exists(database.place, ignored)) {
    throw Error(Trouble::request, "no_log", fmt::format("{}: there is no such log", database.place),
                "name another one with --log; the first 'job open' or 'rig qualify' makes a new log");
  }
  database.sql.open(soci::sqlite3,
                    fmt::format("db={} timeout={}", in_quotes(database.place), seconds_to_wait_for_another_program));
  add_functions(database.sql);
  // A commit is on the disk when it returns; a reader never waits for a writer.
  database.sql << "PRAGMA synchronous=FULL";
  database.sql << "PRAGMA foreign_keys=ON";
  std::string mode;
  database.sql << "PRAGMA journal_mode=WAL", soci::into(mode);
}

/// SQLite's URI of a file (https://sqlite.org/uri.html).
std::string uri_of(const std::string& file, std::string_view how) {
  std::string uri = "file:";
  for (char c : file) {
    const bool plain =
        std::isalnum(static_cast<unsigned char>(c)) != 0 || std::string_view("/._-~").find(c) != std::string_view::npos;
    uri += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return uri + "?" + std::string(how);
}

/// Opening does not touch the file; the first query does.
void open_to_read(Log::Database& database, std::string_view how) {
  database.sql.close();
  database.sql.open(soci::sqlite3, fmt::format("db={} timeout={}", in_quotes(uri_of(database.place, how)),
                                               seconds_to_wait_for_another_program));
  int tables = 0;
  database.sql << "SELECT count(*) FROM sqlite_master", soci::into(tables);
}

bool work_waits_beside(const std::string& file) {
  std::error_code none;
  const auto size = std::filesystem::file_size(file + "-wal", none);
  return !none && size > 0;
}

Error unreachable(const std::string& place, const char* words) {
  return machine("log_unreachable", fmt::format("{}: the log cannot be reached: {}", place, words),
                 "check the path or the address and that the server runs");
}

void set_up_postgresql(soci::session& sql) {
  sql << "SET client_min_messages = warning";
}

/// @throws if the address has a password, which everyone on the machine sees in the list of programs.
void refuse_password(const std::string& address) {
  const std::string_view user = std::string_view(address).substr(0, std::min(address.find('?'), address.rfind('@')));
  const bool before_host = address.find('@') != std::string::npos && user.find(':') != user.rfind(':');
  if (!before_host && address.find("password=") == std::string::npos) return;
  throw Error(Trouble::request, "password_in_address",
              "the log's address has a password in it, and everyone on this machine sees how a program is started",
              "leave it out, and write it in ~/.pgpass or in the file that PGPASSFILE names (host:port:database:user:"
              "password, readable by you alone), or in a service file");
}

/// Without parameters SOCI would add its own to the database's name.
std::string with_parameters(const std::string& address) {
  return address.find('?') == std::string::npos ? address + "?application_name=counterspot" : address;
}

/// SOCI finds its backend by name and loads it here, not with the program: PostgreSQL's client brings a score of
/// libraries along, and most commands need none of them.
void open_postgresql(Log::Database& database, const std::string& address) {
  try {
    database.sql.open("postgresql", with_parameters(address));
  } catch (const soci::soci_error& error) {
    throw unreachable(database.place, error.what());
  }
  set_up_postgresql(database.sql);
}

/// PostgreSQL's own words when a file cannot grow (SQLSTATE 53100), as far as the server speaks English; in another
/// language they are shown as they are.
bool server_is_full(std::string_view words) {
  return words.find("No space left on device") != std::string_view::npos ||
         words.find("Check free disk space") != std::string_view::npos;
}

}  // namespace

Error translated(const soci::soci_error& error, const std::string& place) {
  if (const auto* sqlite = dynamic_cast<const soci::sqlite3_soci_error*>(&error))
    return translated(sqlite->result(), error.what(), place);
  if (server_is_full(error.what()))
    return machine(
        "log_full",
        fmt::format("{}: the server's disk is full; what was in the log before is safe ({})", place, error.what()),
        "free some space on the server and enter the last step again");
  if (error.get_error_category() == soci::soci_error::connection_error || !place.starts_with("postgres"))
    return unreachable(place, error.what());
  if (error.get_error_category() == soci::soci_error::no_privilege)
    return machine("log_read_only", fmt::format("{}: the log cannot be written: {}", place, error.what()),
                   "ask for the right to write to that database");
  return machine("log_failed", fmt::format("{}: the log failed: {}", place, error.what()),
                 "check the server, then enter the last step again");
}

std::string Log::Database::packed(const std::string& digits) const {
  return sqlite ? "packed(" + digits + ")" : digits;
}

std::string Log::Database::unpacked(const std::string& column) const {
  return sqlite ? "lower(hex(" + column + "))" : column;
}

/// A connection that broke while nothing was under way, for the server was started again, is made anew: nothing can be
/// lost or done twice.
void Log::Database::begin(const char* words) const {
  try {
    sql << words;
    return;
  } catch (const soci::soci_error&) {
    if (sqlite || sql.is_connected()) throw;
  }
  try {
    insertions.clear();  // they were of the connection that broke
    sql.reconnect();
    set_up_postgresql(sql);
  } catch (const soci::soci_error& error) {
    throw unreachable(place, error.what());
  }
  sql << words;
}

void Log::Database::transact(const char* words, const std::function<void()>& work) const {
  if (depth > 0) return work();
  begin(words);
  ++depth;
  try {
    work();
    sql << "COMMIT";
    --depth;
  } catch (...) {
    --depth;
    try {
      sql << "ROLLBACK";
    } catch (const soci::soci_error&) {  // NOLINT(bugprone-empty-catch): the first error is the one to tell
    }
    throw;
  }
}

void Log::Database::reading(const std::function<void()>& work) const {
  transact(sqlite ? "BEGIN" : "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY", work);
}

void Log::Database::writing(const std::function<void()>& work) const {
  transact(sqlite ? "BEGIN IMMEDIATE" : "BEGIN", [&] {
    if (!sqlite && depth == 1) sql << "SELECT pg_advisory_xact_lock(7230141)";  // any number of our own
    work();
  });
}

std::unique_ptr<Log::Database> connect(const std::string& place, bool create) {
  if (place == ":memory:" || place.starts_with("file:")) {
    throw Error(Trouble::request, "no_log_place", fmt::format("{}: a log is kept in a file", place),
                "name one, such as --log shop.db, or the address of a PostgreSQL server");
  }
  auto database = std::make_unique<Log::Database>();
  database->sqlite = !(place.starts_with("postgresql:") || place.starts_with("postgres:"));
  database->place = place;
  if (!database->sqlite) refuse_password(place);
  guarded(database->place, [&] {
    if (database->sqlite) return open_sqlite(*database, create);
    open_postgresql(*database, place);
  });
  return database;
}

std::unique_ptr<Log::Database> connect_to_read(const std::string& file) {
  static const int uris =
      sqlite_api::sqlite3_config(SQLITE_CONFIG_URI, 1);  // before the first use, or built in (Debian)
  (void)uris;
  auto database = std::make_unique<Log::Database>();
  database->place = file;
  try {
    open_to_read(*database, "mode=ro");
  } catch (const soci::soci_error&) {
    if (work_waits_beside(file)) {
      throw machine("log_read_only",
                    fmt::format("{}: what was last written waits in {}-wal, and cannot be taken over here", file, file),
                    "copy the log with both files beside it to where you may write, and name the copy");
    }
    guarded(file, [&] { open_to_read(*database, "immutable=1"); });  // nobody can write here, so nothing changes
  }
  return database;
}

}  // namespace counterspot
