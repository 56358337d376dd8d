#include <fcntl.h>
#include <fmt/format.h>
#include <sched.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>

#include "counterspot/log/log.hpp"
#include "counterspot/units/error.hpp"
#include "databases.hpp"
#include "processes.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";

}  // namespace

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

namespace {

/// For this process and its children alone: a disk of so many bytes at the folder. False where that is not allowed.
bool mount_small_disk(const std::filesystem::path& folder, const char* size) {
  const int own = geteuid() == 0 ? CLONE_NEWNS : CLONE_NEWNS | CLONE_NEWUSER;
  return unshare(own) == 0 && mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) == 0 &&
         mount("tmpfs", folder.c_str(), "tmpfs", 0, size) == 0;
}

constexpr int no_such_right = 77;

/// Works until the disk is full, and says what was acknowledged and what the log said then. Makes room, sees whether
/// all is there, and goes on.
int fill_the_disk(const std::string& place, const std::function<void()>& fill_space,
                  const std::function<void()>& make_room, int pipe) {
  std::string before;
  Acknowledged acknowledged;
  {
    Log log = Log::open(place, true);
    before = job_to_json_line(whole_job(log, opening_of("PS-1")));
    fill_space();
    try {
      for (int i = 2; i < 5000; ++i) acknowledged[whole_job(log, opening_of("PS-" + std::to_string(i))).name] = 6;
      return 90;
    } catch (const Error& error) {
      say(pipe, fmt::format("{} {} {}\n", static_cast<int>(error.trouble()), error.code(), error.what()));
    }
  }
  make_room();
  Log log = Log::open(place, false);
  if (!lost(log, acknowledged).empty() || acknowledged.empty()) return 91;
  if (job_to_json_line(log.job("PS-1/1")) != before) return 92;
  if (!log.check().faults.empty()) return 93;
  whole_job(log, opening_of("PS-after"));
  return 0;
}

/// A file that takes space, and whose removal makes room.
void grow(const std::filesystem::path& file, std::size_t bytes) {
  write_file(file, std::string(bytes, 'x'));
}

}  // namespace

TEST_CASE("on a disk that is full the log says so, keeps what it had, and goes on when there is room") {
  const TemporaryFolder folder;
  Process worker([&](int pipe) {
    if (!mount_small_disk(folder.path(), "size=1m")) return no_such_right;
    return fill_the_disk((folder / "log.db").string(), [&] { grow(folder / "ballast", 300000); },
                         [&] { std::filesystem::remove(folder / "ballast"); }, pipe);
  });
  const int code = worker.wait_for();
  if (code == no_such_right) {
    WARN("not run: this machine lets nobody mount a small disk");
    return;
  }
  CHECK(code == 0);
  CHECK(worker.said().starts_with("4 log_full "));
  CHECK(worker.said().find("the disk is full; what was in the log before is safe") != std::string::npos);
}

TEST_CASE("on a full disk under PostgreSQL the log says so, keeps what it had, and goes on when there is room") {
  const TemporaryFolder folder;
  Process worker([&](int pipe) {
    if (!mount_small_disk(folder.path(), "size=90m,mode=777")) return no_such_right;
    setenv("TMPDIR", folder.path().c_str(), 1);
    PostgresServer server;
    const auto room = [&] { return std::filesystem::space(folder.path()).available; };
    return fill_the_disk(
        server.new_database(), [&] { grow(folder / "ballast", room() - 400000); },
        [&] {
          std::filesystem::remove(folder / "ballast");
          server.start_if_down();
        },
        pipe);
  });
  const int code = worker.wait_for();
  if (code == no_such_right) {
    WARN("not run: this machine lets nobody mount a small disk");
    return;
  }
  CAPTURE(worker.said());
  CHECK(code == 0);
  CHECK(worker.said().starts_with("4 log_full "));
  CHECK(worker.said().find("the server's disk is full; what was in the log before is safe") != std::string::npos);
}

TEST_CASE("where no file may grow the log says so and keeps what it had") {
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
  Process reader([&](int pipe) {
    if (geteuid() == 0 && setuid(65534) != 0) return 97;
    const Log log = Log::open_to_read(place);
    say(pipe, fmt::format("{} {}", log.list().size(), log.job("PS-1/1").events.size()));
    return 0;
  });
  CHECK(reader.wait_for() == 0);
  CHECK(reader.said() == "1 6");
  fs::permissions(folder.path(), fs::perms(0755));
  fs::permissions(place, fs::perms(0644));
  CHECK(job_to_json_line(Log::open(place, false).job("PS-1/1")) == before);
}

TEST_CASE("a log whose last work waits beside it is not read half where it cannot be written") {
  namespace fs = std::filesystem;
  const TemporaryFolder folder;
  const TemporaryFolder copy;
  {
    Log log = Log::open((folder / "log.db").string(), true);
    whole_job(log, opening_of("PS-1"));
    for (const char* part : {"log.db", "log.db-wal"})
      fs::copy_file(folder / part, copy / part);  // as a crash leaves it
  }
  fs::permissions(copy / "log.db", fs::perms(0444));
  fs::permissions(copy / "log.db-wal", fs::perms(0444));
  fs::permissions(copy.path(), fs::perms(0555));
  Process reader([&](int pipe) {
    if (geteuid() == 0 && setuid(65534) != 0) return 97;
    try {
      say(pipe, fmt::format("{} jobs", Log::open_to_read((copy / "log.db").string()).list().size()));
      return 0;
    } catch (const Error& error) {
      say(pipe, error.code() + ": " + error.remedy());
      return static_cast<int>(error.trouble());
    }
  });
  CHECK(reader.wait_for() == 4);
  CHECK(reader.said() ==
        "log_read_only: copy the log with both files beside it to where you may write, and name the copy");
  fs::permissions(copy.path(), fs::perms(0755));
}

TEST_CASE("who may only read a PostgreSQL log can list it, and is told when writing") {
  const std::string place = PostgresServer::shared().new_database();
  {
    Log log = Log::open(place, true);
    whole_job(log, opening_of("PS-1"));
  }
  run_sql(place, "CREATE ROLE guest LOGIN; GRANT SELECT ON ALL TABLES IN SCHEMA public TO guest");
  std::string as_guest = place;
  as_guest.replace(as_guest.find("user=shop"), 9, "user=guest");
  Log log = Log::open_to_read(as_guest);
  CHECK(log.list().size() == 1);
  CHECK(log.job("PS-1/1").events.size() == 6);
  try {
    log.open_job(opening_of("PS-2"));
    FAIL("a guest wrote");
  } catch (const Error& error) {
    CHECK(error.code() == "log_read_only");
    CHECK(error.trouble() == Trouble::machine);
  }
}
