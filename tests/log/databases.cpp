#include "databases.hpp"

#include <fmt/format.h>
#include <signal.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <thread>

namespace counterspot::test {

namespace fs = std::filesystem;

namespace {

/// Debian keeps the server's programs beside its version, not on the path.
std::string tools_of_server() {
  std::string found;
  std::error_code none;
  for (const auto& version : fs::directory_iterator("/usr/lib/postgresql", none)) {
    if (fs::exists(version.path() / "bin" / "initdb")) found = (version.path() / "bin").string();
  }
  if (found.empty()) {
    throw std::runtime_error(
        "there is no PostgreSQL server to test against: install the packages of tools/packages-for-tests");
  }
  return found;
}

}  // namespace

PostgresServer::PostgresServer() : tools_(tools_of_server()) {
  fs::permissions(folder_.path(), fs::perms::all);  // the server may not run as root, and takes its own folder
  const std::string data = (folder_ / "data").string();
  run_as_server_user(
      fmt::format("{}/initdb -D {} -A trust -U shop -E UTF8 --locale=C --no-instructions", tools_, data));
  start();
}

void PostgresServer::start() const {
  // After a kill the server's other processes take a moment to end, and until then it will not start. On a busy disk it
  // may take minutes to mend what the kill left.
  for (int attempt = 0;; ++attempt) {
    try {
      return run_as_server_user(
          fmt::format("{0}/pg_ctl -D {1}/data -w -t 300 -l {1}/server.log -o \"-k {1} -c listen_addresses=''\" start",
                      tools_, folder_.path().string()));
    } catch (const std::exception&) {
      if (attempt == 300) throw;
      std::this_thread::sleep_for(std::chrono::milliseconds(100));
    }
  }
}

void PostgresServer::start_if_down() const {
  try {
    run_as_server_user(fmt::format("{}/pg_ctl -D {}/data status", tools_, folder_.path().string()));
  } catch (const std::exception&) {
    start();
  }
}

void PostgresServer::kill_hard() const {
  std::ifstream file(folder_ / "data/postmaster.pid");
  pid_t first = 0;
  if (!(file >> first) || first <= 1 || kill(first, SIGKILL) != 0)
    throw std::runtime_error("the server is not there to be killed");
}

void PostgresServer::stop_at_once() const {
  run_as_server_user(fmt::format("{}/pg_ctl -D {}/data -m immediate stop", tools_, folder_.path().string()));
}

PostgresServer::~PostgresServer() {
  try {
    stop_at_once();
  } catch (const std::exception&) {  // the test has said what there was to say
  }
}

void PostgresServer::run_as_server_user(const std::string& command) const {
  const std::string as = geteuid() == 0 ? "runuser -u postgres -- " : "";
  const std::string line =
      fmt::format("cd {} && {}{} > {}/said 2>&1", folder_.path().string(), as, command, folder_.path().string());
  if (std::system(line.c_str()) != 0)
    throw std::runtime_error("PostgreSQL did not do '" + command + "': " + read_file(folder_ / "said") + server_said());
}

std::string PostgresServer::server_said() const {
  constexpr std::size_t most = 2000;
  std::error_code none;
  if (!std::filesystem::exists(folder_ / "server.log", none)) return "";
  const std::string all = read_file(folder_ / "server.log");
  return "\nthe server's log ends: " + all.substr(all.size() - std::min(most, all.size()));
}

std::string PostgresServer::new_database() {
  const std::string name = fmt::format("log_{}", ++made_);
  run_as_server_user(fmt::format("{}/createdb -h {} -U shop {}", tools_, folder_.path().string(), name));
  return fmt::format("postgresql:///{}?host={}&user=shop", name, folder_.path().string());
}

PostgresServer& PostgresServer::shared() {
  static PostgresServer server;
  return server;
}

Place::Place(Kind kind)
    : text_(kind == Kind::sqlite ? (folder_ / "log of the shop.db").string()
                                 : PostgresServer::shared().new_database()) {}

void run_sql(const std::string& place, const std::string& statement) {
  const bool server = place.starts_with("postgresql:");
  const std::string line = server ? fmt::format("psql -q '{}' -c \"{}\" > /dev/null", place, statement)
                                  : fmt::format("sqlite3 '{}' \"{}\" > /dev/null", place, statement);
  if (std::system(line.c_str()) != 0) throw std::runtime_error("this was not done: " + line);
}

std::vector<std::string> rows_of_sql(const std::string& place, const std::string& query) {
  const bool server = place.starts_with("postgresql:");
  const std::string line =
      server ? fmt::format("psql -qAt '{}' -c \"{}\"", place, query) : fmt::format("sqlite3 '{}' \"{}\"", place, query);
  FILE* answer = popen(line.c_str(), "r");
  std::vector<std::string> rows;
  std::array<char, 4096> row{};
  while (answer != nullptr && std::fgets(row.data(), row.size(), answer) != nullptr) {
    rows.emplace_back(row.data());
    rows.back().pop_back();
  }
  if (answer == nullptr || pclose(answer) != 0) throw std::runtime_error("this was not answered: " + line);
  return rows;
}

void load_sql(const std::string& place, const std::filesystem::path& file) {
  const bool server = place.starts_with("postgresql:");
  const std::string line =
      server ? fmt::format("psql -q -v ON_ERROR_STOP=1 '{}' -f '{}' > /dev/null", place, file.string())
             : fmt::format("sqlite3 '{}' < '{}'", place, file.string());
  if (std::system(line.c_str()) != 0) throw std::runtime_error("this was not done: " + line);
}

void set_schema_version(const std::string& place, int version) {
  run_sql(place, fmt::format("UPDATE schema_version SET version = {}", version));
}

Opening opening_of(const std::string& shaft, std::int64_t at, const std::string& rig) {
  return {"rig.toml", rig_toml({rig}), "shaft.toml", shaft_toml({shaft}), "counterspot 0.1.0", at};
}

Spun spin_of(const std::string& label, double a, double b) {
  Spun spun;
  spun.label = label;
  Eigen::Matrix2d covariance;
  covariance << 1e-9, 0.1 * 1e-9 / 3.0, 0.1 * 1e-9 / 3.0, 2e-9;
  spun.readings = {{"A", Motion::acceleration, {a, b}, covariance}, {"B", Motion::acceleration, {b, a}, covariance}};
  spun.speed_rad_s = 100.0 * pi / 3.0;
  spun.speed_drift_fraction = 0.001;
  spun.revolutions = 312;
  spun.duration_s = 10.4;
  spun.recording = "runs/a \"b\", c.wav";
  spun.sha256 = std::string(64, 'a');
  spun.warnings = {{"clipped", "B", "channel 2 is clipped at 0.5 s; turn the gain down\nand spin again"}};
  return spun;
}

Finding finding_within(double ratio) {
  Finding finding;
  finding.verdict = Verdict::within;
  Eigen::Matrix2d covariance;
  covariance << 1e-12, 1e-13, 1e-13, 3e-12;
  finding.planes = {{"A", {1e-5, -2e-5}, covariance, 0.0012, 0.039, 1.0 / 7.0, 3e-6}};
  finding.held = {{{"A"}, ratio * 348e-6, 2e-6, 348e-6, Verdict::within}};
  return finding;
}

Job whole_job(Log& log, const Opening& opening) {
  const std::string program = "counterspot 0.1.0";
  Job job = log.open_job(opening);
  auto at = opening.at_unix_s;
  job = log.append(job, spin_of("as found"), program, at += 60);
  job = log.append(job, Fitted{{{0, 0.015, 0.039, 0.1}}}, program, at += 60);
  job = log.append(job, spin_of("trial at A", 0.2), program, at += 60);
  job = log.append(job, Fitted{}, program, at += 60);
  Spun last = spin_of("as it goes", 0.01);
  last.finding = finding_within();
  job = log.append(job, last, program, at += 60);
  return log.append(job, Closed{5, finding_within(), ""}, program, at += 60);
}

}  // namespace counterspot::test
