#pragma once

#include <filesystem>
#include <string>

#include "commands/live_options.hpp"
#include "counterspot/rig_setup/setup.hpp"

namespace counterspot::commands {

struct SourceAsked {
  std::string source, seconds;
  LiveAsked live;
};
/// Where nothing is typed of it, the source that the shop's file states. @throws Error(request, "no_source").
SourceAsked source_of_shop(SourceAsked asked);
/// What the source gives in the time asked, in a file of its own beside the rig file.
std::string recorded_step(const SourceAsked& asked, const std::filesystem::path& rig_file, SetupStep step);

}  // namespace counterspot::commands
