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
/// The newest. @throws Error(request, "bad_record").
std::optional<KeptTaps> newest_taps(const Log& log, const std::string& rig);
/// What a day's knocks are held against: the first that were within since a reference shaft showed the rig to be sound.
/// Not those of the day before: a gain that falls a little every day would never be seen. @throws as above.
std::optional<TapRecord> taps_to_hold_against(const Log& log, const std::string& rig, std::int64_t since_unix_s);

void keep_taps(Log& log, const std::string& rig, const TapCheck& check, const std::string& program,
               std::int64_t at_unix_s);

}  // namespace counterspot
