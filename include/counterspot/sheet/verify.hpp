#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/log/log.hpp"

namespace counterspot {

/// What seals and signatures say of a job's record: as it stands in the log, in an export, or on a sheet.
struct Verified {
  std::string job;  ///< empty: it is said of a whole file
  int entries = 0;
  std::string seal;  ///< of what stands there now
  /// Which entry a code belongs to (0: the opening), if one was to be found.
  std::optional<int> entry_of_code;
  std::vector<Event> signatures;          ///< entries that sign it as it is
  std::vector<std::string> faults;        ///< a sentence each; empty: it is as it was kept
  std::vector<std::string> not_compared;  ///< keys of a sheet's values that only the log knows, where there was none
  std::optional<int> sheet_form = {};     ///< of a sheet that an earlier program wrote: which keys it has
};

/// What is asked beside the seals; empty: it is not.
struct DemandedProof {
  std::string code;            ///< of a seal or a link, from elsewhere
  std::string public_key;      ///< of who must have signed it (`public_key_in`)
  std::string file_signature;  ///< by that key, of the bytes of an export; then its jobs need no signatures
};

/// A job of the log. @throws what `Log::job` does; "bad_seal_code".
Verified verified_job(const std::string& job, const Log& log, const DemandedProof& expected);

/// Each job of an export against its own seal and signatures. With a code, those alone that have it; if none has, one
/// that says so. What is said of the file as a whole comes first.
/// @throws Error(request, …) "bad_log_line"; "nothing_to_verify" if there is no job in it; "bad_seal_code"; "no_key" if
/// there is a signature of the file and no key.
std::vector<Verified> verified_export(const std::string& text, const DemandedProof& expected);

/// Is this what `sheet_json` wrote?
bool is_sheet_json(std::string_view text);

/// A sheet's JSON against the log, or where there is none against an export of its job: the sheet is made again from
/// the entries that its seal stands for, and each value that differs is named. Of one that an earlier program wrote,
/// the keys that it has. An export does not know the log's links.
/// @throws what `Log::job` does; Error(request, …) "bad_sheet", "no_such_job".
Verified verified_sheet(const std::string& json, const Log& log, const DemandedProof& expected);
Verified verified_sheet(const std::string& json, const Exported& exported, const DemandedProof& expected);

}  // namespace counterspot
