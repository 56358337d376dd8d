#pragma once

#include <string>
#include <vector>

#include "counterspot/log/log.hpp"

namespace counterspot {

/// Which of the recordings that a log was measured from are still what they were.
struct RecordingsCheck {
  int seen = 0;  ///< there, and compared
  int gone = 0;  ///< no longer where they were
  std::vector<std::string>
      faults;  ///< one sentence each: of those that are there and have other contents, or cannot be read
};
RecordingsCheck check_recordings(const Log& log);

}  // namespace counterspot
