#include <fmt/format.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <thread>

#include "support.hpp"

using namespace counterspot::test;
using Json = nlohmann::json;

namespace {

const char* const rig = R"toml([rig]
name = "bay 2"
rotation = "counter-clockwise"
viewing_end = "A"
sample_rate = "1000 Hz"
[tach]
channel = "tach"
[[sensor]]
name = "A"
channel = "a"
sensitivity = "100 mV/(m/s2)"
)toml";

/// Two seconds at 20 turns a second; the vector of run n is 1 V at n deg.
std::string run_csv(int n) {
  std::string text = "a (V),tach (V)\n";
  for (int i = 0; i < 2000; ++i) {
    const double turns = 20.0 * i / 1000.0 + 0.013;
    const double lag = n * M_PI / 180.0;
    text += fmt::format("{:.6f},{}\n", std::cos(2.0 * M_PI * turns - lag), turns - std::floor(turns) < 0.1 ? 5 : 0);
  }
  return text;
}

struct Runs {
  TemporaryFolder folder;
  explicit Runs(int count) {
    std::filesystem::create_directories(folder / "runs/deep");
    write_file(folder / "rig.toml", rig);
    for (int n = 0; n < count; ++n) {
      const auto name = fmt::format("runs/{}run-{:03}.csv", n % 2 == 0 ? "" : "deep/", n);
      write_file(folder / name, run_csv(n));
    }
    write_file(folder / "runs/notes.txt", "not a recording");
  }
  std::vector<std::string> arguments(std::vector<std::string> more = {}) const {
    std::vector<std::string> all = {"batch", "track", "runs", "--rig", "rig.toml", "--out", "tracks.jsonl"};
    all.insert(all.end(), more.begin(), more.end());
    return all;
  }
  Ran run(std::vector<std::string> more = {}) const {
    return run_program(arguments(std::move(more)), "/dev/null", folder.path());
  }
  std::vector<Json> results() const {
    std::istringstream lines(read_file(folder / "tracks.jsonl"));
    std::vector<Json> documents;
    for (std::string line; std::getline(lines, line);) documents.push_back(Json::parse(line));
    return documents;
  }
};

}  // namespace

TEST_CASE("a batch gives every recording of a folder one line, whatever the number of threads") {
  const Runs runs(8);
  std::set<std::string> alone;
  CHECK(runs.run({"--threads", "1"}).exit_code == 0);
  for (const Json& each : runs.results()) alone.insert(each.dump());
  CHECK(alone.size() == 8);
  std::filesystem::remove(runs.folder / "tracks.jsonl");
  const Ran ran = runs.run({"--threads", "4"});
  CHECK(ran.exit_code == 0);
  CHECK(ran.err.empty());  // no progress bar where there is no terminal
  std::set<std::string> together;
  for (const Json& each : runs.results()) together.insert(each.dump());
  CHECK(together == alone);
}

TEST_CASE("what a batch found of a file says in which folder below the one that was named it stands") {
  const Runs runs(2);
  std::filesystem::create_directories(runs.folder / "runs/bay 2/july");
  write_file(runs.folder / "runs/bay 2/july/broken.wav", "RIFF");
  const auto groups = [](const std::vector<Json>& documents) {
    std::map<std::string, std::string> of_files;
    for (const Json& each : documents) of_files[each["file"]] = each["group"].get<std::string>();
    return of_files;
  };
  CHECK(runs.run().exit_code == 3);
  CHECK(groups(runs.results()) == std::map<std::string, std::string>{{"runs/run-000.csv", ""},
                                                                     {"runs/deep/run-001.csv", "deep"},
                                                                     {"runs/bay 2/july/broken.wav", "bay 2/july"}});
  CHECK(run_program({"batch", "track", "runs/", "--rig", "rig.toml", "--out", "tracks.csv"}, "/dev/null",
                    runs.folder.path())
            .exit_code == 3);
  const std::string table = read_file(runs.folder / "tracks.csv");
  CHECK(table.starts_with("file,group,"));
  CHECK(table.find("\nruns/run-000.csv,,") != std::string::npos);
  CHECK(table.find("\nruns/deep/run-001.csv,deep,") != std::string::npos);
  CHECK(table.find("\nruns/bay 2/july/broken.wav,bay 2/july,") != std::string::npos);
}

TEST_CASE("a recording that cannot be used has its error in its line, and the others go on") {
  const Runs runs(3);
  write_file(runs.folder / "runs/broken.wav", "RIFF");
  CHECK(runs.run().exit_code == 3);
  int errors = 0;
  for (const Json& each : runs.results()) errors += each.contains("error") ? 1 : 0;
  CHECK(runs.results().size() == 4);
  CHECK(errors == 1);
}

TEST_CASE("a batch that was killed goes on where it stopped, and does nothing twice") {
  const Runs runs(150);
  const std::vector<std::string> arguments = runs.arguments({"--threads", "2"});
  int kills = 0;
  for (int turn = 0; turn < 6; ++turn) {
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      std::vector<char*> words = {const_cast<char*>("counterspot")};
      for (const std::string& word : arguments) words.push_back(const_cast<char*>(word.c_str()));
      words.push_back(nullptr);
      if (chdir(runs.folder.path().c_str()) == 0 && freopen("/dev/null", "w", stdout) != nullptr)
        execv(program_path().c_str(), words.data());
      _exit(99);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(5 + 6 * turn));
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    kills += WIFSIGNALED(status) ? 1 : 0;
  }
  // As a power cut may leave it.
  write_file(runs.folder / "tracks.jsonl", read_file(runs.folder / "tracks.jsonl") + "{\"file\":\"runs/run-0");
  const std::string before = read_file(runs.folder / "tracks.jsonl");
  const Ran ran = runs.run();
  CHECK(ran.exit_code == 0);
  CHECK(read_file(runs.folder / "tracks.jsonl").starts_with(before.substr(0, before.rfind('\n') + 1)));
  std::set<std::string> files;
  for (const Json& each : runs.results()) files.insert(each["file"].get<std::string>());
  CHECK(runs.results().size() == 150);
  CHECK(files.size() == 150);
  CHECK(kills >= 1);
}

TEST_CASE("parts for several machines come to the whole, without overlap") {
  const Runs runs(7);
  for (const char* part : {"1/3", "2/3", "3/3"}) CHECK(runs.run({"--part", part}).exit_code == 0);
  std::set<std::string> files;
  for (const Json& each : runs.results()) files.insert(each["file"].get<std::string>());
  CHECK(runs.results().size() == 7);
  CHECK(files.size() == 7);
  for (const char* wrong : {"0/3", "4/3", "1", "a/b"}) CHECK(runs.run({"--part", wrong}).exit_code == 2);
}

TEST_CASE("the documented line for GNU parallel does what it says, here on one machine") {
  const std::string page = read_file(source_file("tools/batch/README.md"));
  const auto begin = page.find("parallel --sshloginfile");
  REQUIRE(begin != std::string::npos);
  const std::string line = page.substr(begin, page.find("```", begin) - begin);
  const Runs runs(20);
  write_file(runs.folder / "machines", ":\n");  // parallel's word for this machine, without ssh
  write_file(runs.folder / "run.sh",
             "export HOME=\"$PWD\" PATH='" + program_path().parent_path().string() + "':\"$PATH\"\n" + line);
  const std::string folder = runs.folder.path().string();
  REQUIRE(std::system(("cd '" + folder + "' && sh run.sh > said 2>&1").c_str()) == 0);
  std::set<std::string> files;
  int lines = 0;
  for (int part = 1; part <= 16; ++part) {
    std::istringstream results(read_file(runs.folder / fmt::format("tracks-{}.jsonl", part)));
    for (std::string each; std::getline(results, each); ++lines) files.insert(Json::parse(each)["file"]);
  }
  CHECK(lines == 20);
  CHECK(files.size() == 20);
}

TEST_CASE("a file that does not hold results is not written to") {
  const Runs runs(1);
  write_file(runs.folder / "tracks.jsonl", "dear diary\n");
  CHECK(runs.run().exit_code == 2);
  CHECK(read_file(runs.folder / "tracks.jsonl") == "dear diary\n");
}
