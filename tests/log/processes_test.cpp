#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <map>
#include <random>
#include <sstream>
#include <thread>

#include "counterspot/error.hpp"
#include "counterspot/log.hpp"
#include "databases.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";

/// Runs `work` in a process of its own. What it writes to the pipe can be read when it has ended.
class Process {
 public:
  explicit Process(const std::function<int(int pipe)>& work) {
    int ends[2];
    if (pipe(ends) != 0) throw std::runtime_error("no pipe");
    id_ = fork();
    if (id_ < 0) throw std::runtime_error("no process");
    if (id_ == 0) {
      close(ends[0]);
      int code = 99;
      try {
        code = work(ends[1]);
      } catch (const std::exception& error) {
        (void)!write(2, error.what(), std::string(error.what()).size());
      }
      _exit(code);
    }
    close(ends[1]);
    read_end_ = ends[0];
  }
  ~Process() { close(read_end_); }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  void kill_now() const { kill(id_, SIGKILL); }
  /// Its exit code, or 128 and the signal.
  int wait_for() {
    char block[4096];
    for (ssize_t n = 0; (n = read(read_end_, block, sizeof block)) > 0;) said_.append(block, n);
    int status = 0;
    waitpid(id_, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }
  const std::string& said() const { return said_; }

 private:
  pid_t id_ = -1;
  int read_end_ = -1;
  std::string said_;
};

void say(int pipe, const std::string& line) {
  if (write(pipe, line.data(), line.size()) != static_cast<ssize_t>(line.size())) _exit(98);
}

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
    job = log.append(job, what_comes_next(job), program, some_day + turn);
    say(pipe, job.name + " " + std::to_string(job.events.size()) + "\n");
  }
}

/// The highest entry acknowledged of each job.
using Acknowledged = std::map<std::string, std::size_t>;

void note(const std::string& said, Acknowledged& acknowledged) {
  std::istringstream lines(said);
  std::string name;
  for (std::size_t number = 0; lines >> name >> number;) acknowledged[name] = std::max(acknowledged[name], number);
}

std::string lost(const Log& log, const Acknowledged& acknowledged) {
  for (const auto& [name, number] : acknowledged) {
    if (!log.has_job(name) || log.job(name).events.size() < number) return name + " " + std::to_string(number);
  }
  return "";
}

}  // namespace

TEST_CASE("after 500 kills at random moments everything acknowledged is there, and the job goes on") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  const int kills = kind == Kind::sqlite ? 500 : 100;  // a server of its own does not die with the program
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

TEST_CASE("four programs write at once, each its own jobs and all of them one") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  CAPTURE(kind == Kind::sqlite ? "SQLite" : "PostgreSQL");
  const Place place(kind);
  constexpr int programs = 4;
  constexpr int jobs_each = 6;
  constexpr int spins_each = 15;
  std::string common;
  if (kind == Kind::sqlite) {
    common = Log::open(place.text(), true).open_job(opening_of("COMMON")).name;
  } else {
    common = "COMMON/1";  // and the database's first tables are made by four at once
  }
  std::vector<std::unique_ptr<Process>> writers;
  for (int i = 0; i < programs; ++i) {
    writers.push_back(std::make_unique<Process>([&, i](int) {
      Log log = Log::open(place.text(), true);
      try {
        log.open_job(opening_of("COMMON"));
      } catch (const Error& error) {
        if (error.code() != "job_open") throw;
      }
      for (int j = 0; j < jobs_each; ++j) whole_job(log, opening_of("PS-" + std::to_string(10 * i + j)));
      for (int done = 0; done < spins_each;) {
        try {
          log.append(log.job(common), spin_of("as found"), program, some_day);
          ++done;
        } catch (const Error& error) {
          if (error.code() != "job_moved_on") throw;  // another was quicker: look again
        }
      }
      return 0;
    }));
  }
  for (auto& writer : writers) CHECK(writer->wait_for() == 0);
  const Log log = Log::open(place.text(), false);
  CHECK(log.list().size() == programs * jobs_each + 1);
  CHECK(log.job(common).events.size() == programs * spins_each);
  CHECK(log.check().faults.empty());
}

TEST_CASE("on a full disk the log says so and keeps what it had") {
  const TemporaryFolder folder;
  const std::string place = (folder / "log.db").string();
  std::string before;
  {
    Log log = Log::open(place, true);
    before = job_to_json_line(whole_job(log, opening_of("PS-1")));
  }
  // No file of this process may grow further: to a program that is a full disk, except for the number of the error.
  Process worker([&](int pipe) {
    Log log = Log::open(place, false);
    signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{65536, 65536};
    setrlimit(RLIMIT_FSIZE, &limit);
    try {
      for (int i = 2; i < 100; ++i) {
        const Job job = whole_job(log, opening_of("PS-" + std::to_string(i)));
        say(pipe, job.name + " 6\n");
      }
    } catch (const Error& error) {
      say(pipe, "! " + error.code() + " " + error.what() + "\n");
      return static_cast<int>(error.trouble());
    }
    return 0;
  });
  CHECK(worker.wait_for() == 4);
  const auto mark = worker.said().find("! ");
  REQUIRE(mark != std::string::npos);
  const std::string words = worker.said().substr(mark + 2);
  CAPTURE(words);
  CHECK((words.starts_with("log_full ") || words.starts_with("log_failed ")));
  CHECK(words.find("what was in the log before is safe") != std::string::npos);
  Acknowledged acknowledged;
  note(worker.said().substr(0, mark), acknowledged);
  const Log log = Log::open(place, false);
  CHECK(lost(log, acknowledged).empty());
  CHECK(job_to_json_line(log.job("PS-1/1")) == before);
  CHECK(log.check().faults.empty());
}

TEST_CASE("in a folder that may only be read the log says so and keeps what it had") {
  namespace fs = std::filesystem;
  const TemporaryFolder folder;
  const std::string place = (folder / "log.db").string();
  std::string before;
  {
    Log log = Log::open(place, true);
    before = job_to_json_line(whole_job(log, opening_of("PS-1")));
  }
  fs::permissions(place, fs::perms(0444));
  fs::permissions(folder.path(), fs::perms(0555));
  Process worker([&](int pipe) {
    if (geteuid() == 0 && setuid(65534) != 0) return 97;  // the rights of a folder do not bind root
    try {
      Log log = Log::open(place, true);
      log.open_job(opening_of("PS-2"));
    } catch (const Error& error) {
      say(pipe, error.code() + ": " + error.what());
      return static_cast<int>(error.trouble());
    }
    return 0;
  });
  CHECK(worker.wait_for() == 4);
  CHECK(worker.said() == "log_read_only: " + place + ": the log or its folder cannot be written");
  fs::permissions(folder.path(), fs::perms(0755));
  fs::permissions(place, fs::perms(0644));
  CHECK(job_to_json_line(Log::open(place, false).job("PS-1/1")) == before);
}
