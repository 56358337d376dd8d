// Pulled plugs: the library at work, the real program at work, the PostgreSQL server under both. How often is set by
// COUNTERSPOT_KILLS (see tests/README.md); every day's number is small.
#include <fcntl.h>
#include <fmt/format.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <random>
#include <thread>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "databases.hpp"
#include "processes.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";

Job job_to_go_on_with(Log& log, int turn) {
  const auto open = log.list({"", "", "open", {}, {}});
  if (!open.empty()) return log.job(open.front().name);
  return log.open_job(opening_of("PS-" + std::to_string(turn % 7), some_day + turn));
}

What what_comes_next(const Job& job) {
  switch (job.events.size() % 7) {
    case 0: return spin_of("as found");
    case 1: return Fitted{{{0, 0.015, 0.039, 0.1}, {1, 0.01, 0.039, 2.0}}};
    case 2: return spin_of("trial");
    case 3: return TakenBack{static_cast<int>(job.events.size()), "slipped"};
    case 4: return Fitted{{{0, 0.015, 0.039, 0.1}}};
    case 5: return spin_of("as it goes");
    default: return Closed{6, finding_within(), ""};
  }
}

/// Works on the log until it is killed, and says each thing only when the log has acknowledged it.
int work_without_end(const std::string& place, int turn, int pipe) {
  Log log = Log::open(place, true);
  for (;;) {
    Job job = job_to_go_on_with(log, turn);
    if (job.events.empty()) say(pipe, job.name + " 0\n");
    try {
      job = log.append(job, what_comes_next(job), program, some_day + turn);
    } catch (const Error& error) {
      // what a worker had sent before it was killed, a server may still commit: looked at again, as its remedy says
      if (error.code() != "job_moved_on") throw;
      continue;
    }
    say(pipe, job.name + " " + std::to_string(job.events.size()) + "\n");
  }
}

/// Sleeps for a random part of a time that follows the machine, so that a good share of the kills find work going on.
class Fuse {
 public:
  explicit Fuse(double longest_s) : longest_s_(longest_s) {}
  void burn() { std::this_thread::sleep_for(std::chrono::duration<double>(longest_s_ * part_(random_))); }
  void was_early(bool early) { longest_s_ = std::clamp(longest_s_ * (early ? 1.15 : 0.8), 0.002, 2.0); }

 private:
  double longest_s_;
  std::mt19937 random_{20261125};
  std::uniform_real_distribution<double> part_{0.0, 1.0};
};

/// The real program, killed by its process number.
class Victim {
 public:
  Victim(const std::filesystem::path& folder, const std::vector<std::string>& arguments)
      : process_([&](int pipe) {
          std::vector<std::string> words = {program_path().string()};
          words.insert(words.end(), arguments.begin(), arguments.end());
          std::vector<char*> line;
          for (std::string& word : words) line.push_back(word.data());
          line.push_back(nullptr);
          if (chdir(folder.c_str()) != 0) return 98;
          dup2(pipe, 1);
          dup2(open("said", O_WRONLY | O_CREAT | O_TRUNC, 0644), 2);
          execv(line[0], line.data());
          return 97;
        }) {}
  void kill_now() const { process_.kill_now(); }
  int wait_for() { return process_.wait_for(); }

 private:
  Process process_;
};

/// A shop whose operator types spins in, with a rig, a shaft, a log, and another log's jobs to import.
struct Shop {
  TemporaryFolder folder;
  std::string log;
  int imports = 0;
  int backups = 0;

  explicit Shop(std::string place) : log(std::move(place)) {
    write_file(folder / "rig.toml", rig_toml({"bay 2", "20 mV/(mm/s)"}));
    write_file(folder / "shaft.toml", shaft_toml());
  }
  std::vector<std::string> spin() const {
    return {"job",      "spin",
            "--vector", "A=6.0 mm/s @ 35 deg ± 0.1 mm/s",
            "--vector", "B=4.5 mm/s @ 230 deg ± 0.1 mm/s",
            "--speed",  "1800 rpm"};
  }
  /// What an operator types when the job has so many entries; 0 without a job.
  std::vector<std::string> next(const std::optional<Job>& job) const {
    if (!job) return {"job", "open", "shaft.toml", "--rig", "rig.toml"};
    switch (job->events.size() % 7) {
      case 1: return {"job", "fit", "A 15 g @ 10 deg", "B 10 g @ 7:30", "--as-typed"};
      case 3: return {"job", "back", std::to_string(job->events.size()), "--reason", "slipped"};
      case 4: return {"job", "fit", "A 15 g @ 10 deg", "--only", "--as-typed"};
      case 6: return {"job", "close", "--reason", "the shift is over"};
      default: return spin();
    }
  }
  /// Every eighth time something is done to the log instead: a backup, an import of two jobs.
  std::vector<std::string> log_work(int turn) {
    if (turn % 16 < 8) return {"log", "backup", fmt::format("backup-{}.db", ++backups)};
    const Place elsewhere(Kind::sqlite);
    std::string lines;
    ++imports;
    Log other = Log::open(elsewhere.text(), true);
    for (const char* which : {"a", "b"})
      lines += job_to_json_line(whole_job(other, opening_of(fmt::format("IN-{}{}", imports, which)))) + "\n";
    write_file(folder / "in.jsonl", lines);
    return {"log", "import", "in.jsonl"};
  }
  std::optional<Job> open_job() const {
    if (!log.starts_with("postgres") && !std::filesystem::exists(log)) return std::nullopt;
    try {
      const Log open = Log::open(log, false);
      const auto jobs = open.list({"", "", "open", {}, {}});
      if (!jobs.empty()) return open.job(jobs.front().name);
    } catch (const Error& error) {
      if (error.code() != "no_log") throw;  // killed before the first table
    }
    return std::nullopt;
  }
};

/// Entries of the job that was open, as they are now; 0 if it is not there.
std::size_t entries_now(const Shop& shop, const std::string& name) {
  const Log log = Log::open(shop.log, false);
  return log.has_job(name) ? log.job(name).events.size() : 0;
}

bool has_two_imported(const Shop& shop) {
  const Log log = Log::open(shop.log, false);
  const bool a = log.has_job(fmt::format("IN-{}a/1", shop.imports));
  REQUIRE(a == log.has_job(fmt::format("IN-{}b/1", shop.imports)));  // all of an import, or nothing
  return a;
}

/// A backup is there whole, or not at all.
bool has_backup(const Shop& shop) {
  const auto file = shop.folder / fmt::format("backup-{}.db", shop.backups);
  if (!std::filesystem::exists(file)) return false;
  REQUIRE(Log::open(file.string(), false).check().faults.empty());
  return true;
}

}  // namespace

TEST_CASE(
    "after kills at random moments of the library at work everything acknowledged is there, and the job goes on") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  const int kills = kills_asked(kind == Kind::sqlite ? 60 : 25);
  CAPTURE(kind == Kind::sqlite ? "SQLite" : "PostgreSQL");
  const Place place(kind);
  std::mt19937 random(20261125);
  std::uniform_real_distribution<double> part(0.0, 1.0);
  double longest_s = 0.04;  // follows the machine, so that about every other worker gets to say something
  Acknowledged acknowledged;
  int during_work = 0;
  for (int turn = 0; turn < kills; ++turn) {
    Process worker([&](int pipe) { return work_without_end(place.text(), turn, pipe); });
    std::this_thread::sleep_for(std::chrono::duration<double>(longest_s * part(random)));
    worker.kill_now();
    REQUIRE(worker.wait_for() == 128 + SIGKILL);
    Acknowledged now;
    note(worker.said(), now);
    note(worker.said(), acknowledged);
    during_work += now.empty() ? 0 : 1;
    longest_s = std::clamp(longest_s * (now.empty() ? 1.3 : 0.8), 0.005, 2.0);
    if (acknowledged.empty()) continue;  // killed before the first word
    const Log log = Log::open(place.text(), false);
    REQUIRE(lost(log, now).empty());
  }
  CHECK(during_work > kills / 4);  // after the first word and before the last
  Log log = Log::open(place.text(), false);
  CHECK(lost(log, acknowledged).empty());
  CHECK(log.check().faults.empty());
  Job job = job_to_go_on_with(log, kills);
  CHECK_NOTHROW(log.append(job, what_comes_next(job), program, some_day));
}

TEST_CASE("after kills at random moments of `job` and `log` everything acknowledged is there, and the job goes on") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  CAPTURE(kind == Kind::sqlite ? "SQLite" : "PostgreSQL");
  const int kills = kills_asked(20);
  const Place place(kind);
  Shop shop(place.text());
  Fuse fuse(0.1);
  Acknowledged acknowledged;
  int killed = 0;
  int came_through = 0;
  int kept_unsaid = 0;  // killed between the disk and the word
  for (int turn = 1; killed < kills; ++turn) {
    REQUIRE(turn < 20 * kills + 100);
    const std::optional<Job> job = shop.open_job();
    const bool on_log = job && turn % 8 == 0;
    std::vector<std::string> arguments = on_log ? shop.log_work(turn) : shop.next(job);
    const bool is_import = on_log && arguments[1] == "import";
    arguments.insert(arguments.end(), {"--log", shop.log});
    Victim victim(shop.folder.path(), arguments);
    fuse.burn();
    victim.kill_now();
    const int code = victim.wait_for();
    const bool dead = code == 128 + SIGKILL;
    fuse.was_early(dead);
    INFO(fmt::format("turn {}: {} {} gave {}: {}", turn, arguments[0], arguments[1], code,
                     read_file(shop.folder / "said")));
    REQUIRE((dead || code == 0 || (code == 1 && arguments[1] == "close")));
    killed += dead ? 1 : 0;
    came_through += dead ? 0 : 1;
    if (on_log) {
      const bool there = is_import ? has_two_imported(shop) : has_backup(shop);
      CHECK((dead || there));
    } else if (job) {
      const std::size_t before = job->events.size();
      const std::size_t now = entries_now(shop, job->name);
      REQUIRE(now >= before + (dead ? 0 : 1));
      REQUIRE(now <= before + 1);
      kept_unsaid += dead && now > before ? 1 : 0;
      acknowledged[job->name] = std::max(acknowledged[job->name], dead ? before : before + 1);
    } else {
      CHECK((dead || shop.open_job()));
    }
  }
  const Log log = Log::open(shop.log, false);
  CHECK(lost(log, acknowledged).empty());
  CHECK(log.check().faults.empty());
  CHECK(came_through > kills / 10);
  fmt::print("{}: {} commands killed, {} came through, {} kept without a word, {} entries\n",
             kind == Kind::sqlite ? "SQLite" : "PostgreSQL", killed, came_through, kept_unsaid, log.check().events);
}

TEST_CASE("after the PostgreSQL server itself is killed or shut down at once everything acknowledged is there") {
  PostgresServer& server = PostgresServer::shared();
  const std::string place = server.new_database();
  Fuse fuse(0.4);
  Acknowledged acknowledged;
  const int falls = std::max(1, kills_asked(0) / 25);
  int during_work = 0;
  for (int turn = 0; turn < falls; ++turn) {
    Process worker([&](int pipe) {
      try {
        return work_without_end(place, turn, pipe);
      } catch (const Error& error) {
        return static_cast<int>(error.trouble());
      }
    });
    std::this_thread::sleep_for(std::chrono::milliseconds(300));
    fuse.burn();
    turn % 2 == 0 ? server.kill_hard() : server.stop_at_once();
    CHECK(worker.wait_for() == 4);  // the machine failed, said in words
    Acknowledged now;
    note(worker.said(), now);
    note(worker.said(), acknowledged);
    during_work += now.empty() ? 0 : 1;
    server.start();
    REQUIRE(lost(Log::open(place, true), acknowledged).empty());
  }
  if (falls >= 10) CHECK(during_work > falls / 2);
  Log log = Log::open(place, false);
  CHECK(log.check().faults.empty());
  Job job = job_to_go_on_with(log, falls);
  CHECK_NOTHROW(log.append(job, what_comes_next(job), program, some_day));
  fmt::print("the server fell {} times, {} of them during work; {} entries\n", falls, during_work, log.check().events);
}
