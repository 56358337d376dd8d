#include "commands/interrupt.hpp"

#include <atomic>
#include <csignal>

namespace counterspot::commands {

namespace {

/// A handler may touch nothing else.
std::atomic<bool> was_interrupted = false;  // NOLINT(cppcoreguidelines-avoid-non-const-global-variables)
static_assert(std::atomic<bool>::is_always_lock_free);

}  // namespace

void heed_interrupts() {
  for (const int signal : {SIGINT, SIGTERM}) std::signal(signal, [](int) { was_interrupted = true; });
}

bool interrupted() {
  return was_interrupted;
}

}  // namespace counterspot::commands
