#pragma once

#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include <functional>
#include <map>
#include <string>

#include "counterspot/log/log.hpp"

namespace counterspot::test {

/// How often the tests pull the plug: COUNTERSPOT_KILLS, or few enough for every day.
int kills_asked(int usual);

/// Runs `work` in a process of its own. What it writes to the pipe can be read when it has ended.
class Process {
 public:
  explicit Process(const std::function<int(int pipe)>& work);
  ~Process();
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  void kill_now() const;
  /// Its exit code, or 128 and the signal.
  int wait_for();
  const std::string& said() const { return said_; }

 private:
  pid_t id_ = -1;
  int read_end_ = -1;
  std::string said_;
};

void say(int pipe, const std::string& line);

/// The highest entry acknowledged of each job.
using Acknowledged = std::map<std::string, std::size_t>;

/// Lines of job and entry, as workers say them.
void note(const std::string& said, Acknowledged& acknowledged);
/// The first that is not in the log; empty if all are.
std::string lost(const Log& log, const Acknowledged& acknowledged);

}  // namespace counterspot::test
