#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "counterspot/log/log.hpp"
#include "counterspot/rig_setup/tap_check.hpp"

namespace counterspot {

/// Daily checks by knocks as the log keeps them: records of a rig, of the kind "taps".
struct KeptTaps {
  std::int64_t at_unix_s = 0;
  bool within = false;
  Said against;  ///< what was wrong
  TapRecord record;
};
/// The newest; of those within alone if `within`. @throws Error(request, "bad_record").
std::optional<KeptTaps> newest_taps(const Log& log, const std::string& rig, bool within = false);

void keep_taps(Log& log, const std::string& rig, const TapCheck& check, const std::string& program,
               std::int64_t at_unix_s);

}  // namespace counterspot
