#pragma once

#include <string>

#include "commands/output.hpp"
#include "counterspot/model/rig.hpp"
#include "files/stated_recording.hpp"

namespace counterspot::commands {

/// What `track --json` and `solve --json` print of one file, for `batch`. @throws as they do.
Json track_document(const std::string& file, const Rig& rig);
Json solve_document(const std::string& file, const StatedRecording& stated);

}  // namespace counterspot::commands
