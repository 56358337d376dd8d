#include "counterspot/log/recordings.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <system_error>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

/// What is wrong with a recording that is there; empty: it has the contents it had.
std::string fault_of(const Spun& spun) {
  try {
    return sha256_of_recording(spun.recording) == spun.sha256 ? "" : "is not the recording that was measured";
  } catch (const Error&) {
    return "cannot be read";
  }
}

}  // namespace

RecordingsCheck check_recordings(const Log& log) {
  RecordingsCheck check;
  log.for_each_job({}, [&](const Job& job) {
    for (const Event& event : job.events) {
      const auto* spun = std::get_if<Spun>(&event.what);
      if (spun == nullptr || spun->sha256.empty()) continue;
      std::error_code unreadable;
      const bool there = std::filesystem::exists(spun->recording, unreadable) || unreadable;
      ++(there ? check.seen : check.gone);
      if (const std::string fault = there ? fault_of(*spun) : ""; !fault.empty())
        check.faults.push_back(fmt::format("job {}, entry {}: {} {}", job.name, event.number, spun->recording, fault));
    }
  });
  return check;
}

}  // namespace counterspot
