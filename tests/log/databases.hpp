#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "counterspot/log/log.hpp"
#include "demo_files.hpp"
#include "error_code.hpp"
#include "support.hpp"

namespace counterspot::test {

/// A PostgreSQL server of our own: made for one test run in a temporary folder, on a socket there, gone afterwards.
/// Needs Debian's package postgresql; a test that cannot have it fails and says so.
class PostgresServer {
 public:
  PostgresServer();
  ~PostgresServer();
  PostgresServer(const PostgresServer&) = delete;
  PostgresServer& operator=(const PostgresServer&) = delete;

  /// A new, empty database.
  std::string new_database();

  /// As a power cut does it: SIGKILL to the server's first process, whose others then end by themselves.
  void kill_hard() const;
  /// "Immediate" shutdown: no checkpoint, no farewell.
  void stop_at_once() const;
  /// Again, after either; recovers by itself.
  void start() const;
  void start_if_down() const;
  static PostgresServer& shared();

 private:
  void run_as_server_user(const std::string& command) const;
  std::string server_said() const;
  TemporaryFolder folder_;
  std::string tools_;
  int made_ = 0;
};

/// Where a log may be: every test of the log runs once on each.
enum class Kind { sqlite, postgresql };

class Place {
 public:
  explicit Place(Kind kind);
  const std::string& text() const { return text_; }

 private:
  TemporaryFolder folder_;
  std::string text_;
};

/// Reaches past the log into its database.
void run_sql(const std::string& place, const std::string& statement);
/// What a query gives, a line per row, columns parted by '|'.
std::vector<std::string> rows_of_sql(const std::string& place, const std::string& query);
/// The same of a file of statements, into an empty database.
void load_sql(const std::string& place, const std::filesystem::path& file);
void set_schema_version(const std::string& place, int version);

inline constexpr std::int64_t some_day = 1764072000;  // 2025-11-25T12:00:00Z

Opening opening_of(const std::string& shaft = "PS-1042", std::int64_t at = some_day, const std::string& rig = "bay 2");

/// A spin with awkward numbers, which must come back bit for bit.
Spun spin_of(const std::string& label, double a = 1.0 / 3.0, double b = -2e-7);
Finding finding_within(double ratio = 0.5);
/// As found, a trial piece, a spin, taken off, a spin, and closed within limit.
Job whole_job(Log& log, const Opening& opening);

}  // namespace counterspot::test
