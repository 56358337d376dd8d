#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/job/job.hpp"
#include "counterspot/log/log.hpp"

namespace counterspot {

/// What makes it show when somebody changes an entry that was kept: the chain of hashes of Schneier and Kelsey (1999),
/// "Secure Audit Logs to Support Computer Forensics", ACM TISSEC 2(2), without its keys. The seal of an entry is the
/// SHA-256 (FIPS 180-4) of the seal of the entry before it in its job, a line end, and the entry as it is exported;
/// that of a job's opening is the SHA-256 of what it was opened with. So the last seal stands for the whole job, in
/// every log it is copied to. The log links the seals of all jobs to a chain of its own (src/log/chain.cpp). Who can
/// write to the log can seal anew what he changed; that shows against a seal written elsewhere, as on a sheet.

/// Each 64 lower-case hexadecimal digits.
std::string opening_seal(const Job& job);
std::string entry_seal(const std::string& seal_before, const Event& event);
std::string record_seal(const RigRecord& record);

/// Of the job's opening and of each entry, from what they hold now; `job.seal` is what was kept of the last one.
std::vector<std::string> seals_of(const Job& job);
std::string seal_of(const Job& job);  ///< the last of these

/// "3f9a 12cd 55aa 0b1c 9d2e 77f0": the first 96 bits, for a sheet of paper. Nobody finds other contents with the same.
std::string seal_code(const std::string& seal);
/// Is `code`, with or without its blanks, at least 16 digits of the beginning of the seal? @throws Error(request,
/// "bad_seal_code") if it is no such code.
bool has_code(const std::string& seal, std::string_view code);
/// The entry whose seal, or one of the links given, has the code; 0: the opening.
std::optional<int> entry_of_code(const Job& job, const std::vector<LogLink>& links, std::string_view code);

}  // namespace counterspot
