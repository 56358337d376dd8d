#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/log/log.hpp"

namespace counterspot {

/// What the seals say of a job's record: as it stands in the log, in an export, or on a sheet.
struct Verified {
  std::string job;
  int entries = 0;
  std::string seal;  ///< of what stands there now
  /// Which entry a code belongs to (0: the opening), if one was to be found.
  std::optional<int> entry_of_code;
  std::vector<std::string> faults;  ///< a sentence each; empty: it is as it was kept
};

/// A job against its own seal, and against a code from elsewhere (empty: none) that may be a seal's or a link's.
/// @param links of the log; empty of an export.
Verified verified(const Job& job, const std::vector<LogLink>& links, std::string_view code);

/// Is this what `sheet_json` wrote?
bool is_sheet_json(std::string_view text);

/// A sheet's JSON against the log: the sheet is made again from the entries that its seal stands for, and each value
/// that differs is named. @throws Error(request, "no_such_job"), Error(machine, "log_altered").
Verified verified_sheet(const std::string& json, const Log& log);

}  // namespace counterspot
