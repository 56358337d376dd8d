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

// A code from elsewhere, a seal's or a link's, is empty where there is none to be found.

/// A job of the log. @throws what `Log::job` does; "bad_seal_code".
Verified verified_job(const std::string& job, const Log& log, std::string_view code);

/// Each job of an export against its own seal. With a code, those alone that have it; if none has, one that says so.
/// @throws Error(request, …) "bad_log_line"; "nothing_to_verify" if there is no job in it; "bad_seal_code".
std::vector<Verified> verified_export(const std::string& text, std::string_view code);

/// Is this what `sheet_json` wrote?
bool is_sheet_json(std::string_view text);

/// A sheet's JSON against the log: the sheet is made again from the entries that its seal stands for, and each value
/// that differs is named. @throws what `Log::job` does; Error(request, "bad_sheet").
Verified verified_sheet(const std::string& json, const Log& log);

}  // namespace counterspot
