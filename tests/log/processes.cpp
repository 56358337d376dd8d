#include "processes.hpp"

#include <signal.h>

#include <algorithm>
#include <cstdlib>
#include <sstream>

namespace counterspot::test {

int kills_asked(int usual) {
  const char* asked = std::getenv("COUNTERSPOT_KILLS");
  return asked == nullptr ? usual : std::atoi(asked);
}

Process::Process(const std::function<int(int pipe)>& work) {
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

Process::~Process() {
  close(read_end_);
}

void Process::kill_now() const {
  kill(id_, SIGKILL);
}

int Process::wait_for() {
  char block[4096];
  for (ssize_t n = 0; (n = read(read_end_, block, sizeof block)) > 0;) said_.append(block, static_cast<std::size_t>(n));
  int status = 0;
  waitpid(id_, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

void say(int pipe, const std::string& line) {
  if (write(pipe, line.data(), line.size()) != static_cast<ssize_t>(line.size())) _exit(98);
}

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

}  // namespace counterspot::test
