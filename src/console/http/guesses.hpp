#pragma once

#include <chrono>
#include <map>
#include <mutex>
#include <string>

namespace counterspot {

/// Wrong tokens, counted by the address they come from: each further one has to wait longer.
class Guesses {
 public:
  using Clock = std::chrono::steady_clock;
  enum class Outcome { right, wrong, too_soon };
  /// While an address has to wait, the right token is not looked at either, so that it cannot be told from others.
  Outcome guess(const std::string& address, bool right, Clock::time_point now);

 private:
  struct Told {
    int wrong = 0;
    Clock::time_point until;  // nothing is looked at before
  };
  std::mutex mutex_;
  std::map<std::string, Told> told_;  // by address
};

}  // namespace counterspot
