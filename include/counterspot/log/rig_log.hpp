#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/log/log.hpp"
#include "counterspot/rig/rig_work.hpp"

namespace counterspot {

/// Work on rigs as the log keeps it: every entry is a RigRecord of its task's kind, and is only ever added.

/// @throws Error(request, …) as admit_beginning; "rig_work_open" (this rig's last work is not ended),
/// "no_yardstick" (a check or recalibration with a reference shaft that never qualified the rig).
RigWork open_rig_work(Log& log, RigTask task, const Opening& opening);

/// Keeps entries, all or none. @param seen the work as it was when they were decided.
/// @throws Error(request, "rig_moved_on"), and what `admit` does.
RigWork append(Log& log, const RigWork& seen, const std::vector<RigWhat>& whats, const std::string& program,
               std::int64_t at_unix_s);

/// Oldest first; of all rigs if `rig` is empty. @throws Error(request, "bad_record").
std::vector<RigWork> rig_works(const Log& log, const std::string& rig, RigTask task);

/// The newest of a rig, of any task; of all rigs if `rig` is empty.
std::optional<RigWork> newest_rig_work(const Log& log, const std::string& rig);

/// Of the last qualification that passed, with this reference shaft if one is named.
std::optional<RigYardstick> last_yardstick(const Log& log, const std::string& rig, const std::string& shaft = "");

/// Are a log's rig records whole? One sentence for each fault.
std::vector<std::string> faults_of_rig_works(const Log& log);

}  // namespace counterspot
